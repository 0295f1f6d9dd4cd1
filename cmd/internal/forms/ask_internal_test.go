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
	"aplomb/device/wire"
)

func TestComplete(t *testing.T) {
	for typed, want := range map[string]string{"h": "hard", "HA": "hard", "soft": "soft", "x": "x", "": ""} {
		assert.Equal(t, want, complete(device.Shanks[:], typed))
	}
	assert.Equal(t, "r", complete(text.ShapeNames(), "r"), "rounded or rectangle")
	assert.Equal(t, "4", complete(text.ShapeNames(), "4"))
}

// answering runs the questions about a shoe with the given lines as answers.
func answering(t *testing.T, f *Shoe, s *logbook.Shoe, lines ...string) (string, error) {
	var out bytes.Buffer
	err := f.Ask(console.NewPerson(t.Context(), &out, strings.NewReader(strings.Join(lines, "\n")+"\n")), s)
	return out.String(), err
}

// The questions about a shoe get impossible answers, the shoe is drawn, and it is
// corrected once.
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

// Improbable answers are confirmed: a unit, a crown, swapped width and depth.
func TestAskDoubts(t *testing.T) {
	f, s := NewShoe(), logbook.Shoe{Shoe: device.Shoe{Code: "A"}}
	_, err := f.Apply(t.Context(), &s)
	require.NoError(t, err)
	out, err := answering(t, f, &s,
		"2.2", "n", "22", // width in cm
		"36", "what", "", // depth and width swapped
		"", "", "2.4", "2.4cm", "", "", "", "3.1", "y", "", "", "y",
	)
	require.NoError(t, err, out)
	for _, said := range []string{
		"  a platform of 2.2 mm: is the unit right (in cm it would be 22 mm)? Keep it? [y/N]",
		"are width and depth swapped? The width goes from the little toe to the big toe. Swap them? [Y/n]",
		"a crown of 2.4 mm: a shoe has one from 10 to 100 mm (in cm it would be 24 mm)\n",
		"vamp of 3.1 mm: is the unit right (in cm it would be 31 mm)? Keep it? [y/N]",
	} {
		assert.Contains(t, out, said)
	}
	assert.Equal(t, [2]float64{36, 22}, s.PlatformMM)
	assert.Equal(t, 24.0, s.CrownMM)
	assert.Equal(t, 3.1, s.VampMM)
}

// stripAnswers runs the questions about a strip with the given lines as answers.
func stripAnswers(t *testing.T, f *Strip, s *device.Strip, lines ...string) string {
	var out bytes.Buffer
	require.NoError(t, f.Ask(console.NewPerson(t.Context(), &out, strings.NewReader(strings.Join(lines, "\n")+"\n")), s))
	return out.String()
}

// The questions about a strip get impossible and improbable answers.
func TestAskStrip(t *testing.T) {
	f, s := NewStrip(), BlankStrip("L-01")
	out := stripAnswers(t, f, &s,
		"", "middle", "l", "0", "8", "5", "", // foot; rows and columns, swapped
		"0.5", "n", "5", "5", "9x9", "4.5x4.5", "20", "12", // pitches, cells, bits
		"", "serp", "big", "0,75", "n", // the rest, and not right
		"", "", "", "", "", "-", "", "", "", "-", "-", "y",
	)
	for _, said := range []string{
		"this one is needed", `foot "middle": write left or right`, "above 0",
		"8 rows and 5 columns: are they swapped? Columns are counted from the little toe to the big toe, where a platform is longer. Swap them? [Y/n]",
		"cells on 4 mm: is the unit of the pitch right (in cm it would be 40 mm)? Keep it? [y/N]",
		"is larger than the pitch", "20 bits: 1 to 16", "grid             5 × 8, pitch 5 × 5 mm, cells of 4.5 × 4.5 mm", "kPa of one count, by the data sheet, if you know it [0.75]:",
	} {
		assert.Contains(t, out, said)
	}
	f.Complete(&s)
	require.NoError(t, s.Check())
	want := BlankStrip("L-01")
	want.Foot, want.Rows, want.Cols, want.PitchMM, want.CellMM = device.Left, 5, 8, [2]float64{5, 5}, [2]float64{5, 5}
	want.ADCBits, want.SaturatesAt, want.FirstCell, want.Scan, want.Calibration.KPaPerCount = 12, 4095, "back-lateral", "serpentine", 0.75
	assert.Equal(t, want, s)

	// What a strip says of itself is not asked.
	f, s = NewStrip(), BlankStrip("R-01")
	f.Hear(&wire.Hello{Strip: "R-01", Foot: device.Right, Rows: 5, Cols: 8, ADCBits: 10})
	assert.Equal(t, "pitch", f.Missing())
	require.NoError(t, f.Apply(&s))
	out = stripAnswers(t, f, &s, "5", "5", "", "", "", "", "", "")
	assert.NotContains(t, out, "bits of the converter")
	f.Complete(&s)
	require.NoError(t, s.Check())
	assert.Equal(t, 1023, s.SaturatesAt)
	assert.Equal(t, 3.0, s.Calibration.KPaPerCount)
}

func TestStripFlags(t *testing.T) {
	apply := func(typed ...string) (device.Strip, error) {
		f, s := NewStrip(), BlankStrip("L-01")
		for i := 0; i < len(typed); i += 2 {
			f.Type(typed[i], typed[i+1])
		}
		err := f.Apply(&s)
		f.Complete(&s)
		return s, err
	}
	s, err := apply("foot", "left", "grid", "5 × 8", "pitch", "5x4", "cell", "3x3", "bits", "10", "saturates-at", "1000", "first-cell", "front-medial", "scan", "columns", "tail", "back", "kpa-per-count", "2")
	require.NoError(t, err)
	require.NoError(t, s.Check())
	assert.Equal(t, [2]float64{5, 4}, s.PitchMM)
	assert.Equal(t, 1000, s.SaturatesAt)
	assert.Equal(t, "columns", s.Scan)
	assert.Equal(t, "back", s.Mount.TailSide)
	for want, typed := range map[string][2]string{
		`--grid: "5" is no number of rows and columns: write them as 5x8`: {"grid", "5"},
		`--foot: foot "both": write left or right`:                        {"foot", "both"},
		`--scan: "round": one of rows, columns, serpentine`:               {"scan", "round"},
	} {
		_, err := apply(typed[0], typed[1])
		assert.EqualError(t, err, want)
	}
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
