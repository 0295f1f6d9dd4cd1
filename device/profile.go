package device

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"regexp"
	"strings"

	"github.com/BurntSushi/toml"
)

// FieldError says which key of a profile is wrong and why.
type FieldError struct {
	Key    string
	Reason string
}

func (e *FieldError) Error() string { return e.Key + ": " + e.Reason }

// ReadStrip reads a strip profile. An error names file, line and reason.
func ReadStrip(path string) (*Strip, error) {
	data, err := os.ReadFile(path)
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
	if err := parse(name, data, s); err != nil {
		return nil, err
	}
	if s.CellMM == [2]float64{} {
		s.CellMM = s.PitchMM
	}
	if s.SaturatesAt == 0 && s.ADCBits > 0 && s.ADCBits <= 16 {
		s.SaturatesAt = 1<<s.ADCBits - 1
	}
	return s, located(name, data, s.Check())
}

// ReadShoe reads a shoe. An error names file, line and reason.
func ReadShoe(path string) (*Shoe, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("shoe: %w", err)
	}
	return ParseShoe(path, data)
}

// ParseShoe reads a shoe from data; name stands in errors as the file.
func ParseShoe(name string, data []byte) (*Shoe, error) {
	s := &Shoe{}
	if err := parse(name, data, s); err != nil {
		return nil, err
	}
	if len(s.OutlineMM) == 0 && s.OutlineExponent == 0 {
		s.OutlineExponent = 2.5
	}
	return s, located(name, data, s.Check())
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

func parse(name string, data []byte, into any) error {
	meta, err := toml.Decode(string(data), into)
	if err != nil {
		var p toml.ParseError
		if errors.As(err, &p) {
			return fmt.Errorf("%s:%d: %s", name, p.Position.Line, strings.TrimPrefix(p.Message, "toml: "))
		}
		return fmt.Errorf("%s: %w", name, err)
	}
	if extra := meta.Undecoded(); len(extra) > 0 {
		key := extra[0]
		return fmt.Errorf("%s:%d: unknown key %q: see the profile format in README.md", name, lineOf(data, key[len(key)-1]), key.String())
	}
	return nil
}

// located adds file and line to a FieldError.
func located(name string, data []byte, err error) error {
	var f *FieldError
	if !errors.As(err, &f) {
		return err
	}
	if line := lineOf(data, f.Key); line > 0 {
		return fmt.Errorf("%s:%d: %w", name, line, err)
	}
	return fmt.Errorf("%s: %w (the key is missing)", name, err)
}

// lineOf finds the line on which key, or the table of that name, stands; 0 where it does not.
func lineOf(data []byte, key string) int {
	re := regexp.MustCompile(`(?m)^\s*(?:\[\s*)?"?` + regexp.QuoteMeta(key) + `"?\s*[=\]]`)
	at := re.FindIndex(data)
	if at == nil {
		return 0
	}
	start := at[0]
	for start < len(data) && (data[start] == '\n' || data[start] == '\r') {
		start++
	}
	return 1 + bytes.Count(data[:start], []byte("\n"))
}
