package device

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"regexp"
	"strings"

	"github.com/BurntSushi/toml"

	"aplomb/device/input"
)

// FieldError is an error in one key of a profile.
type FieldError struct {
	Key    string
	Reason string
}

func (e *FieldError) Error() string { return e.Key + ": " + e.Reason }

// ReadStrip reads a strip profile from a file. An error names file, line and reason.
// Reading ends with the error of ctx when ctx is done.
func ReadStrip(ctx context.Context, path string) (*Strip, error) {
	data, err := input.ReadFile(ctx, path, input.MaxProfile)
	if err != nil {
		return nil, fmt.Errorf("strip profile: %w", err)
	}
	return parseStrip(path, data, func(s *Strip) error { return cmp.Or(s.Check(), s.CheckTyped()) })
}

// ParseStrip reads a strip profile from data. Errors name the file as name.
func ParseStrip(name string, data []byte) (*Strip, error) {
	return parseStrip(name, data, (*Strip).Check)
}

// parseStrip is ParseStrip with a function that checks the values.
func parseStrip(name string, data []byte, check func(*Strip) error) (*Strip, error) {
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
	if err := check(s); err != nil {
		return nil, located(name, data, meta, err)
	}
	return s, nil
}

// ReadShoe reads a shoe from a file as ReadStrip does.
func ReadShoe(ctx context.Context, path string) (*Shoe, error) {
	data, err := input.ReadFile(ctx, path, input.MaxProfile)
	if err != nil {
		return nil, fmt.Errorf("shoe: %w", err)
	}
	s, err := parseShoe(path, data, func(s *Shoe) error { return cmp.Or(s.Check(), s.CheckTyped()) })
	odd := func(r rune) bool { return IsControl(r) && r != '\n' && r != '\t' }
	if err == nil && strings.ContainsFunc(s.Padding, odd) {
		return nil, fmt.Errorf("%s: padding %.40q: write it without control characters", path, s.Padding)
	}
	return s, err
}

// ParseShoe reads a shoe from data. Errors name the file as name.
func ParseShoe(name string, data []byte) (*Shoe, error) { return parseShoe(name, data, (*Shoe).Check) }

// parseShoe is ParseShoe with a function that checks the values.
func parseShoe(name string, data []byte, check func(*Shoe) error) (*Shoe, error) {
	s := &Shoe{}
	meta, err := parse(name, data, s)
	if err != nil {
		return nil, err
	}
	if len(s.OutlineMM) == 0 && !meta.IsDefined("outline_exponent") {
		s.OutlineExponent = 2.5
	}
	if err := check(s); err != nil {
		return nil, located(name, data, meta, err)
	}
	return s, nil
}

// TOML returns a profile, a *Strip or a *Shoe, in the form of its file.
func TOML(profile any) string {
	var b bytes.Buffer
	e := toml.NewEncoder(&b)
	e.Indent = ""
	if err := e.Encode(profile); err != nil {
		panic(err) // only Strip and Shoe come here, and both can be written
	}
	return b.String()
}

// wrongType matches the TOML library's error for a value of the wrong type, which
// has no type of its own.
var wrongType = regexp.MustCompile(`^toml: line (\d+) \(last key "(.*)"\): (.*)$`)

// parse decodes data and refuses keys that do not exist, and data that input.CheckTOML
// refuses. Errors name file and line.
func parse(name string, data []byte, into any) (toml.MetaData, error) {
	var long *input.LineError
	if errors.As(input.CheckTOML(data), &long) {
		return toml.MetaData{}, fmt.Errorf("%s:%d: %s", name, long.Line, long.Reason)
	}
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
		// The library accepts Rows for rows, and one of them where a file has both.
		if s := key.String(); s != strings.ToLower(s) {
			unknown = append(unknown, key)
		}
	}
	if len(unknown) > 0 {
		key := unknown[0]
		switch {
		case key.String() == "strip" && !meta.IsDefined("shoe"):
			return meta, fmt.Errorf("%s:%d: this is the profile of a strip: name the file of a shoe", name, lineOf(data, key))
		case key.String() == "shoe" && !meta.IsDefined("strip"):
			return meta, fmt.Errorf("%s:%d: this is the file of a shoe: name the profile of a strip", name, lineOf(data, key))
		}
		return meta, fmt.Errorf("%s:%d: unknown key %.80q: see aplomb guide files", name, lineOf(data, key), key.String())
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

// lineOf returns the line of a key, or of the inline table that it is in. It returns
// the first line for a key in a form that it does not find.
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
