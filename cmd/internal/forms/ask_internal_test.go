package forms

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
)

func TestComplete(t *testing.T) {
	for typed, want := range map[string]string{"h": "hard", "HA": "hard", "soft": "soft", "x": "x", "": ""} {
		assert.Equal(t, want, complete(device.Shanks[:], typed))
	}
	assert.Equal(t, "r", complete(text.ShapeNames(), "r"), "rounded or rectangle")
	assert.Equal(t, "4", complete(text.ShapeNames(), "4"))
}

// answering asks about a shoe and has the questions answered by lines.
func answering(t *testing.T, f *Shoe, s *logbook.Shoe, lines ...string) (string, error) {
	var out bytes.Buffer
	err := f.Ask(console.NewPerson(t.Context(), &out, strings.NewReader(strings.Join(lines, "\n")+"\n")), s)
	return out.String(), err
}

// A shoe is asked about with answers that cannot be, drawn, and corrected once.
func TestAsk(t *testing.T) {
	f := NewShoe()
	f.Type("padding", "gel")
	s := logbook.Shoe{Shoe: device.Shoe{Code: "A"}}
	_, err := f.Apply(t.Context(), &s)
	require.NoError(t, err)
	out, err := answering(t, f, &s,
		"wide", "", "0", "900", "36", // width
		"7/8in", "sq", "x", "m", "2.4 cm", "soft", "t", "", "", "-2", "4", "what", "n", // depth to hours, and not right
		"", "22", "", "", "-", "h", "", "", "", "", "y", // once more
	)
	require.NoError(t, err)
	for _, said := range []string{`"wide" is no length`, "this one is needed", "above 0", "width and depth from 0.01 to 500", `"x": one of tapered`, "0 or more", "y or n",
		"platform, width [36 mm]:", "profile [24 mm]:", "36 × 22.23 mm, squarish (exponent 4)"} {
		assert.Contains(t, out, said)
	}
	assert.NotContains(t, out, "padding:", "it was typed as a flag")
	assert.Equal(t, logbook.Shoe{Shoe: device.Shoe{
		Code: "A", PlatformMM: [2]float64{36, 22}, OutlineExponent: 4, Box: "moderately tapered", Shank: "hard", ShankLength: "three-quarter", Padding: "gel", HoursWorn: 4,
	}}, s)

	_, err = answering(t, NewShoe(), &s, "36")
	assert.ErrorIs(t, err, console.ErrNoAnswer)
}

func TestShoeFlags(t *testing.T) {
	type typed map[string]string
	apply := func(f *Shoe, values typed) (logbook.Shoe, error) {
		for _, one := range f.Fields {
			if v, ok := values[one.Name]; ok {
				f.Type(one.Name, v)
			}
		}
		s := logbook.Shoe{Shoe: device.Shoe{Code: "A"}}
		_, err := f.Apply(t.Context(), &s)
		return s, err
	}
	f := NewShoe()
	assert.False(t, f.Any())
	s, err := apply(f, typed{"platform": "36x22", "shank": "soft"})
	require.NoError(t, err)
	assert.True(t, f.Any())
	assert.True(t, f.Shaped())
	assert.Equal(t, text.DefaultShape, s.OutlineExponent)
	assert.Equal(t, "soft", s.Shank)

	f = NewShoe()
	f.File = "../../aplomb/testdata/profiles/B.toml"
	s = logbook.Shoe{Shoe: device.Shoe{Code: "A"}}
	renamed, err := f.Apply(t.Context(), &s)
	require.NoError(t, err)
	assert.Equal(t, "B", renamed)
	assert.Equal(t, "A", s.Code)

	nobody := ""
	f = NewShoe()
	f.Owner = &nobody
	assert.True(t, f.Any())
	assert.False(t, f.Shaped())

	for want, f := range map[string]*Shoe{
		"--scale and --mirror are for --outline FILE": {Mirror: true},
		"says what --platform and --shape do":         {Outline: "a.svg", Form: Form[logbook.Shoe]{typed: []typedField{{"shape", "oval"}}}},
		"--scale \"x\"":                               {Outline: "a.svg", Scale: "x", Unit: "mm"},
	} {
		_, err := f.Apply(t.Context(), &s)
		assert.ErrorAs(t, err, &usage.Error{})
		assert.ErrorContains(t, err, want)
	}
	_, err = apply(NewShoe(), typed{"shank": "brittle"})
	assert.EqualError(t, err, `--shank: "brittle": one of soft, medium, hard`)
}

func TestDancerAndVisit(t *testing.T) {
	d := Dancer()
	for _, typed := range [][2]string{{"birth-year", "2009"}, {"pointe-years", "3,5"}, {"toe-shape", "sloping"}, {"longest-toe", "1/2"}, {"note", "x"}, {"note", ""}} {
		d.Type(typed[0], typed[1])
	}
	var dancer logbook.Dancer
	require.NoError(t, d.Apply(&dancer))
	years := 3.5
	assert.Equal(t, logbook.Dancer{BirthYear: 2009, PointeYears: &years, Feet: [2]logbook.Foot{{ToeShape: "sloping", LongestToe: 1}, {ToeShape: "sloping", LongestToe: 2}}}, dancer)
	assert.True(t, d.Has("watch", "note"))
	assert.False(t, d.Has("watch"))

	v := Visit()
	v.Type("baseline", "yes")
	v.Type("pain-before", "0")
	v.Type("pain-after", "")
	var visit logbook.Visit
	require.NoError(t, v.Apply(&visit))
	none := 0
	assert.Equal(t, logbook.Visit{Baseline: true, PainBefore: &none}, visit)
	for _, typed := range [][2]string{{"baseline", "maybe"}, {"pain-after", "much"}, {"mass-kg", "heavy"}, {"rise", "jump"}} {
		v := Visit()
		v.Type(typed[0], typed[1])
		assert.ErrorAs(t, v.Apply(&visit), &usage.Error{}, typed[0])
	}
}
