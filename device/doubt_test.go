package device

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// Values that are probably typing errors are doubted. Partly known and plausible values
// are not.
func TestDoubtsOfAShoe(t *testing.T) {
	for _, s := range []Shoe{
		{}, {PlatformMM: [2]float64{36, 22}}, {PlatformMM: [2]float64{36, 0}}, {PlatformMM: [2]float64{10, 10}}, {PlatformMM: [2]float64{100, 60}},
		{PlatformMM: [2]float64{36, 22}, CrownMM: 24, VampMM: 31, WingsMM: 44},
	} {
		assert.Empty(t, s.Doubts(), "%+v", s)
	}
	for want, s := range map[string]Shoe{
		"a platform 3.6 mm wide and 2.2 mm deep: is the unit right (in cm it would be 36 × 22 mm)?":                            {PlatformMM: [2]float64{3.6, 2.2}},
		"a platform 360 mm wide and 22 mm deep: is the unit right?":                                                            {PlatformMM: [2]float64{360, 22}},
		"a platform of 3.6 mm: is the unit right (in cm it would be 36 mm)?":                                                   {PlatformMM: [2]float64{3.6, 0}},
		"a platform 22 mm wide and 36 mm deep: are width and depth swapped? The width goes from the little toe to the big toe": {PlatformMM: [2]float64{22, 36}},
		"a platform 22 mm wide and 36 mm deep: is the drawing turned? Its front is up":                                         {OutlineMM: [][2]float64{{-11, -18}, {11, -18}, {11, 18}, {-11, 18}}},
		"vamp of 3.1 mm: is the unit right (in cm it would be 31 mm)?":                                                         {VampMM: 3.1},
		"wings of 440 mm: is the unit right?":                                                                                  {WingsMM: 440},
		"a crown of 2.4 mm: a shoe has one from 10 to 100 mm (in cm it would be 24 mm)":                                        {CrownMM: 2.4},
		"a crown of 240 mm: a shoe has one from 10 to 100 mm":                                                                  {CrownMM: 240},
	} {
		all := s.Doubts()
		if assert.Len(t, all, 1, want) {
			assert.Equal(t, want, all[0].Text)
			assert.Equal(t, s.PlatformMM == [2]float64{22, 36}, all[0].Swapped)
		}
	}
}

func TestDoubtsOfAStrip(t *testing.T) {
	for _, s := range []Strip{{}, {Rows: 5}, {Rows: 5, Cols: 8}, {Rows: 5, Cols: 8, PitchMM: [2]float64{5, 5}}, {Rows: 8, Cols: 6, PitchMM: [2]float64{8, 4}}} {
		assert.Empty(t, s.Doubts(), "%+v", s)
	}
	for want, s := range map[string]Strip{
		"8 rows and 5 columns: are they swapped? Columns are counted from the little toe to the big toe, where a platform is longer": {Rows: 8, Cols: 5},
		"cells on 16 mm from little toe to big toe and 25 mm from back to front: are the two pitches swapped?":                       {Rows: 5, Cols: 8, PitchMM: [2]float64{2, 5}},
		"cells on 4 × 2.5 mm: is the unit of the pitch right (in cm it would be 40 × 25 mm)?":                                        {Rows: 5, Cols: 8, PitchMM: [2]float64{0.5, 0.5}},
		"cells on 400 × 25 mm: is the unit of the pitch right?":                                                                      {Rows: 5, Cols: 8, PitchMM: [2]float64{50, 5}},
	} {
		all := s.Doubts()
		if assert.Len(t, all, 1, want) {
			assert.Equal(t, want, all[0].Text)
			assert.Equal(t, s.Rows == 8, all[0].Swapped)
		}
	}
}
