package device

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// One inch is 25.4 mm (NIST SP 811 (2008), appendix B.8).
func TestParseLength(t *testing.T) {
	for _, c := range []struct {
		text, unit string
		mm         float64
	}{
		{"36", "mm", 36}, {" 36.5 ", "mm", 36.5}, {"36,5", "mm", 36.5}, {"3.65 cm", "mm", 36.5}, {"36 mm", "inch", 36},
		{"1", "inch", 25.4}, {"1 7/16", "inch", 36.5125}, {"7/8", "inch", 22.225}, {"1in", "mm", 25.4}, {`1"`, "mm", 25.4}, {"2 inch", "mm", 50.8},
	} {
		mm, err := ParseLength(c.text, c.unit)
		assert.NoError(t, err, c.text)
		assert.InDelta(t, c.mm, mm, 1e-9, c.text)
	}
	for _, text := range []string{"", "x", "-3", "1e3", "NaN", "Inf", "0x10", "1/0", "1 2", "1 1 1/2", "1 -1/2", "mm", "1.2.3", "1,2,3"} {
		_, err := ParseLength(text, "mm")
		assert.Error(t, err, "%q", text)
	}
	_, err := ParseLength("1", "ell")
	assert.ErrorContains(t, err, "mm or inch")
}

func TestParseSize(t *testing.T) {
	for text, want := range map[string][2]float64{
		"36x22": {36, 22}, "36 × 22 mm": {36, 22}, "3.6x2.2cm": {36, 22}, "1 1/2 x 1 in": {38.1, 25.4}, `1"x20mm`: {25.4, 20},
	} {
		got, err := ParseSize(text, "mm")
		assert.NoError(t, err, text)
		assert.InDeltaSlice(t, want[:], got[:], 1e-9, text)
	}
	for _, text := range []string{"36", "36x", "x22", "36x22x10", ""} {
		_, err := ParseSize(text, "mm")
		assert.Error(t, err, text)
	}
}

// A length is written into a profile as a person would write it.
func TestLengthsHaveNoRoundingErrors(t *testing.T) {
	mm, err := ParseLength("1 7/16", "inch")
	assert.NoError(t, err)
	assert.Equal(t, 36.5125, mm)
}

func TestInUnit(t *testing.T) {
	in, short := InUnit(36.5125, "inch") // 1 7/16
	assert.InDelta(t, 1.4375, in, 1e-12)
	assert.Equal(t, "in", short)
	mm, short := InUnit(36.5125, "mm")
	assert.Equal(t, 36.5125, mm)
	assert.Equal(t, "mm", short)
}

func FuzzParseSize(f *testing.F) {
	for _, text := range []string{"36x22", "1 7/16 x 7/8", `1"x2 cm`, "36,5×22 mm", "/x/", "1/0x1"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		for _, unit := range Units {
			mm, err := ParseSize(text, unit)
			if err != nil {
				continue
			}
			for _, v := range mm {
				assert.True(t, v >= 0 && !math.IsInf(v, 0), "%q gave %v", text, v)
			}
		}
	})
}
