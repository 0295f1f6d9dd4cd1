package device

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"regexp"
	"strings"

	"github.com/BurntSushi/toml"

	"aplomb/device/internal/pipe"
)

// FieldError says which key of a profile is wrong and why.
type FieldError struct {
	Key    string
	Reason string
}

func (e *FieldError) Error() string { return e.Key + ": " + e.Reason }

// ReadStrip reads a strip profile. An error names file, line and reason.
func ReadStrip(ctx context.Context, path string) (*Strip, error) {
	data, err := pipe.ReadFile(ctx, path)
	if err != nil {
		return nil, fmt.Errorf("strip profile: %w", err)
	}
	return ParseStrip(path, data)
}

// ParseStrip reads a strip profile from data; name stands in errors as the file.
func ParseStrip(name string, data []byte) (*Strip, error) {
	s := &Strip{
		Scan:        "rows",
		FirstCell:   "back-lateral",
		Mount:       Mount{SeatSDMM: DefaultSeatSDMM},
		Calibration: Calibration{GainSD: DefaultGainSD},
	}
	s.Foot = NoFoot
	meta, err := parse(name, data, s)
	if err != nil {
		return nil, err
	}
	if !meta.IsDefined("cell_mm") {
		s.CellMM = s.PitchMM
	}
	if !meta.IsDefined("saturates_at") && s.ADCBits > 0 && s.ADCBits <= 16 {
		s.SaturatesAt = 1<<s.ADCBits - 1
	}
	if err := s.Check(); err != nil {
		return nil, located(name, data, meta, err)
	}
	return s, nil
}

// ReadShoe reads a shoe. An error names file, line and reason.
func ReadShoe(ctx context.Context, path string) (*Shoe, error) {
	data, err := pipe.ReadFile(ctx, path)
	if err != nil {
		return nil, fmt.Errorf("shoe: %w", err)
	}
	return ParseShoe(path, data)
}

// ParseShoe reads a shoe from data; name stands in errors as the file.
func ParseShoe(name string, data []byte) (*Shoe, error) {
	s := &Shoe{}
	meta, err := parse(name, data, s)
	if err != nil {
		return nil, err
	}
	if len(s.OutlineMM) == 0 && !meta.IsDefined("outline_exponent") {
		s.OutlineExponent = 2.5
	}
	if err := s.Check(); err != nil {
		return nil, located(name, data, meta, err)
	}
	return s, nil
}

// TOML writes a profile (a *Strip or a *Shoe) as its file would hold it.
func TOML(profile any) string {
	var b bytes.Buffer
	e := toml.NewEncoder(&b)
	e.Indent = ""
	if err := e.Encode(profile); err != nil {
		panic(err) // only Strip and Shoe come here, and both can be written
	}
	return b.String()
}

// wrongType is how the TOML library words a value of the wrong type.
var wrongType = regexp.MustCompile(`^toml: line (\d+) \(last key "(.*)"\): (.*)$`)

func parse(name string, data []byte, into any) (toml.MetaData, error) {
	meta, err := toml.Decode(string(data), into)
	if err != nil {
		var p toml.ParseError
		if errors.As(err, &p) {
			return meta, fmt.Errorf("%s:%d: %s", name, p.Position.Line, strings.TrimPrefix(p.Message, "toml: "))
		}
		if m := wrongType.FindStringSubmatch(err.Error()); m != nil {
			return meta, fmt.Errorf("%s:%s: %s: %s", name, m[1], m[2], m[3])
		}
		return meta, fmt.Errorf("%s: %w", name, err)
	}
	unknown := meta.Undecoded()
	for _, key := range meta.Keys() {
		// The library takes Rows for rows, and either where a file has both.
		if s := key.String(); s != strings.ToLower(s) {
			unknown = append(unknown, key)
		}
	}
	if len(unknown) > 0 {
		key := unknown[0]
		return meta, fmt.Errorf("%s:%d: unknown key %q: see the profile format in README.md", name, lineOf(data, key), key.String())
	}
	return meta, nil
}

// located adds file and line to a FieldError.
func located(name string, data []byte, meta toml.MetaData, err error) error {
	var f *FieldError
	if !errors.As(err, &f) {
		return err
	}
	for _, key := range meta.Keys() {
		if key[len(key)-1] == f.Key { // no two tables of a profile share a key
			return fmt.Errorf("%s:%d: %w", name, lineOf(data, key), err)
		}
	}
	return fmt.Errorf("%s: %w (the key is missing)", name, err)
}

var (
	tableLine = regexp.MustCompile(`^\s*\[+([^\]]*)\]`)
	keyLine   = regexp.MustCompile(`^\s*([\w\s."'-]+?)\s*=`)
)

// lineOf finds the line on which key stands, or the inline table it stands in;
// the first line where it is written too strangely to be found.
func lineOf(data []byte, key toml.Key) int {
	spelled := strings.NewReplacer(`"`, "", `'`, "", " ", "", "\t", "")
	want := strings.Join(key, ".")
	best, table := 1, ""
	for i, line := range strings.Split(string(data), "\n") {
		here := ""
		if m := tableLine.FindStringSubmatch(line); m != nil {
			here = spelled.Replace(m[1])
			table = here + "."
		} else if m := keyLine.FindStringSubmatch(line); m != nil {
			here = table + spelled.Replace(m[1])
		}
		switch {
		case here == want:
			return i + 1
		case here != "" && strings.HasPrefix(want, here+"."):
			best = i + 1
		}
	}
	return best
}
