package plots

import (
	"fmt"
	"path/filepath"
	"strings"
	"unicode"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/device"
)

// Named is a picture with the name for its file, without an extension.
type Named struct {
	Name string
	Picture
}

// All returns every picture of a comparison and of the recordings that it was
// made from, each with a name that is unique in lower case too. Pictures without content
// are left out.
func All(results []*measure.Result, c *compare.Comparison) []Named {
	var out []Named
	taken := map[string]bool{}
	add := func(name string, p Picture) {
		name = fileName(name)
		for i, first := 2, name; taken[strings.ToLower(name)]; i++ {
			name = fmt.Sprintf("%s-%d", first, i)
		}
		taken[strings.ToLower(name)] = true
		out = append(out, Named{name, p})
	}
	if p := NewPlace(c); len(p.Rows) > 0 {
		add("place", p)
	}
	if p := NewAgainstKern(c); len(p.Rows) > 1 {
		add("against-kern", p)
	}
	if p := NewPlatforms(c); len(p.Rows) > 0 {
		add("platforms", p)
	}
	for _, foot := range device.Feet {
		if p := NewShoes(c, foot); len(p.Panels) > 0 {
			add("shoes-"+foot.String(), p)
		}
	}
	for _, code := range shoeCodes(c) {
		if p := NewFeet(c, code); len(p.Panels) > 0 {
			add("feet-"+code, p)
		}
	}
	for _, p := range NewWears(c) {
		add("wear-"+p.Row.Name, p)
	}
	if p := NewLadder(c); len(p.Panels) > 0 {
		add("ladder", p)
	}
	for _, r := range results {
		if p := NewTrace(r); len(p.Feet) > 0 {
			file, _, _ := strings.Cut(filepath.Base(r.Recording.File), ".mcap") // .part may follow
			add("trace-"+file, p)
		}
	}
	return out
}

// fileName replaces by - every character of a name that some file system refuses.
func fileName(name string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) || strings.ContainsRune("-_.#", r) {
			return r
		}
		return '-'
	}, strings.ToValidUTF8(name, "-"))
}
