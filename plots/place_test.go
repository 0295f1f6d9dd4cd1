package plots_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"
	"pgregory.net/rapid"

	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/plots"
	"aplomb/plots/internal/exampledata"
)

// shoes returns a fitting of n shoes.
func shoes(n int) exampledata.Fitting {
	var cases []exampledata.ShoeCase
	for i := range n {
		s := exampledata.B
		s.Shoe.Code = fmt.Sprint("S", i+1)
		cases = append(cases, s)
	}
	return exampledata.New(1, 2, device.Feet[:], cases...)
}

// Up to four shoes are side by side; more start another row, on the same scale.
func TestPlacesOfManyShoes(t *testing.T) {
	var widths, heights []vg.Length
	for _, n := range []int{1, 2, 4, 5, 12} {
		found, width, height := labels(plots.NewPlace(shoes(n).Comparison))
		left := map[vg.Length]bool{}
		for _, l := range found {
			if strings.HasPrefix(l.text, "Shoe ") {
				left[l.box.Min.X] = true
			}
		}
		assert.Len(t, left, min(n, 4), "%d shoes", n)
		widths, heights = append(widths, width), append(heights, height)
	}
	assert.Equal(t, []vg.Length{widths[0], widths[0], widths[0], widths[0], widths[0]}, widths)
	assert.Less(t, heights[0], heights[1], "the feet of a single shoe are side by side")
	assert.Greater(t, heights[1], heights[2], "two shoes are drawn larger than four")
	assert.InDelta(t, float64(3*heights[2]), float64(heights[4]), 60, "twelve shoes are three rows like that of four")
}

// Pictures of single shoes one below the other are to one scale, also where one of the shoes
// was recorded on one foot only.
func TestEachShoeToOneScale(t *testing.T) {
	p := plots.NewPlace(exampledata.Usual().Comparison)
	p.Rows[1].Feet[device.Left] = nil
	all := p.Each(9 * vg.Centimeter)
	require.Len(t, all, len(p.Rows))
	smallest := vg.Length(math.Inf(1))
	for i, one := range all {
		assert.Equal(t, plots.ScaleOf(all[0]), plots.ScaleOf(one))
		assert.Equal(t, i+1 < len(all), one.NoLegend)
		alone := *p
		alone.Rows, alone.Wide = p.Rows[i:i+1], 9*vg.Centimeter
		smallest = min(smallest, plots.ScaleOf(&alone))
	}
	assert.Equal(t, smallest, plots.ScaleOf(all[0]))
}

// A page for a dancer has no word of statistics, and no number.
func TestPlaceInPlainWords(t *testing.T) {
	p := plots.NewPlace(exampledata.Usual().Comparison)
	p.Plain = true
	said := func(p plots.Picture) string {
		found, _, _ := labels(p)
		var all []string
		for _, l := range found {
			all = append(all, l.text)
		}
		return strings.ToLower(strings.Join(append(all, p.Describe()), "\n"))
	}
	plain := said(p)
	for _, no := range []string{"kern", "mean", "95 %", "±", "sd", "over −"} {
		assert.NotContains(t, plain, no)
	}
	assert.Contains(t, plain, "target zone")
	p.Plain = false
	assert.Contains(t, said(p), "target zone (kern)")
	assert.Contains(t, said(p), "relevés of one mounting")

	p.NoLegend = true
	assert.NotContains(t, said(p), "target zone (kern)")
	assert.Contains(t, said(p), "10 mm")
}

// The place of a single relevé has no region.
func TestPlaceWithoutARegion(t *testing.T) {
	found, _, _ := labels(plots.NewPlace(fittings()["one relevé"].Comparison))
	var all []string
	for _, l := range found {
		all = append(all, l.text)
	}
	assert.Contains(t, all, "mean")
	assert.NotContains(t, all, "mean in its 95 % region")
	f := fittings()["one relevé"].Comparison.Shoes[0]
	_, ok := f.Region95()
	require.False(t, ok)
}

// A point inside a shoe's kern is drawn inside the kern common to all shoes, in the same
// direction and at the same multiple of its extent.
func TestAgainstKernKeepsInside(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		kern := func(name string) platform.Polygon {
			return platform.Superellipse(rapid.Float64Range(25, 45).Draw(t, name+" width"), rapid.Float64Range(15, 28).Draw(t, name+" depth"), rapid.Float64Range(2, 5).Draw(t, name+" exponent")).Kern()
		}
		own, reference := kern("own"), kern("reference")
		r := platform.Point{rapid.Float64Range(-15, 15).Draw(t, "medial"), rapid.Float64Range(-10, 10).Draw(t, "over")}
		at, ratio := plots.InKerns(r, own, reference)
		if math.Hypot(r[0], r[1]) < 1e-6 {
			return
		}
		assert.InEpsilon(t, math.Hypot(r[0], r[1])/own.Reach(r), ratio, 1e-6)
		assert.InDelta(t, 0, r[0]*at[1]-r[1]*at[0], 1e-6*(1+math.Hypot(r[0], r[1])), "another direction")
	})
}

// Twelve shoes have twelve marks.
func TestMarksOfTwelveShoes(t *testing.T) {
	met := map[plots.Mark]bool{}
	for _, row := range plots.NewPlace(shoes(12).Comparison).Rows {
		met[row.Mark] = true
	}
	assert.Len(t, met, 12)
}

// The edge of contact is that of the relevé nearest to the mean, within the platform.
func TestContactEdgeOfATypicalReleve(t *testing.T) {
	f := exampledata.New(1, 3, device.Feet[:], exampledata.A)
	s := f.Comparison.Shoes[0]
	nearest, most := 0, math.Inf(1)
	for i := range s.Releves {
		d := math.Hypot(s.Releves[i].MedialMM-s.Measures[measure.Medial].Mean, s.Releves[i].OverMM-s.Measures[measure.Over].Mean)
		if d < most {
			nearest, most = i, d
		}
		s.Releves[i].ContactEdge = [][2]platform.Point{{{float64(i), 0}, {float64(i), 1}}, {{0, 0}, {0, 99}}}
	}
	assert.Equal(t, [][2]platform.Point{{{float64(nearest), 0}, {float64(nearest), 1}}}, plots.ContactEdge(&s), "99 mm is beyond the platform")
	said := func() bool {
		found, _, _ := labels(plots.NewPlatforms(f.Comparison))
		return slices.ContainsFunc(found, func(l label) bool { return strings.HasPrefix(l.text, "contact ends here") })
	}
	assert.True(t, said())
	for _, s := range f.Comparison.Shoes {
		for i := range s.Releves {
			s.Releves[i].ContactEdge = nil
		}
	}
	assert.False(t, said(), "the platform does not lift off")
}
