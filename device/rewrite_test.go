package device

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

const handWritten = `# The strip with the green cable.
strip = "L-01"   # as on its label
foot = "left"
rows = 2
cols = 7
pitch_mm = [
  5.0, # medial
  5.0, # over ] not yet the end
]
adc_bits = 12

[calibration]
# From the sheet that came with it.
kpa_per_count = 0.75  # kPa

[mount]
rotation_deg = 0.5    # crooked`

func rewritten(t *testing.T, text string, change func(*Strip)) string {
	t.Helper()
	s, err := ParseStrip("left.toml", []byte(text))
	require.NoError(t, err)
	change(s)
	after, err := Rewrite("left.toml", []byte(text), s)
	require.NoError(t, err)
	return string(after)
}

func TestRewriteKeepsWhatElseIsWritten(t *testing.T) {
	assert.Equal(t, handWritten, rewritten(t, handWritten, func(*Strip) {}), "nothing to say, nothing written")

	curved := rewritten(t, handWritten, func(s *Strip) {
		s.Calibration = Calibration{Curve: "power", KPaAtOneCount: 0.08, Exponent: 1.25, GainSD: DefaultGainSD,
			ZeroCounts: []float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14.5}, Date: Date{2026, 3, 14}}
		s.Mount.SeatSDMM, s.Mount.SeatMountings, s.Mount.SeatFreedom = 0.4, 6, 9.5
	})
	assert.Equal(t, strings.Replace(handWritten, "kpa_per_count = 0.75  # kPa\n", `curve = "power"
kpa_at_one_count = 0.08
exponent = 1.25
zero_counts = [
  1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0,
  8.0, 9.0, 10.0, 11.0, 12.0, 13.0, 14.5,
]
date = 2026-03-14
`, 1)+"\nseat_sd_mm = 0.4\nseat_mountings = 6\nseat_dof = 9.5\n", curved)

	assert.Equal(t, strings.Replace(curved, "= 1.25\n", "= 1.5\n", 1),
		rewritten(t, curved, func(s *Strip) { s.Calibration.Exponent = 1.5 }))
	assert.NotContains(t, rewritten(t, curved, func(s *Strip) { s.Calibration.ZeroCounts = nil }), "13.0",
		"a list goes with all its lines")
}

// The entered tail side stays when a seat is written.
func TestRewriteKeepsTheTailSide(t *testing.T) {
	tailed := handWritten + "\ntail_side = \"big toe\" # towards the cable\n"
	assert.Equal(t, tailed+"seat_mountings = 6\n", rewritten(t, tailed, func(s *Strip) { s.Mount.SeatMountings = 6 }))
	assert.Equal(t, strings.Replace(tailed, "big toe", "back", 1), rewritten(t, tailed, func(s *Strip) { s.Mount.TailSide = "back" }))
	assert.Equal(t, handWritten+"\n", rewritten(t, tailed, func(s *Strip) { s.Mount.TailSide = "" }))
}

func TestRewriteMakesTables(t *testing.T) {
	bare := strings.Replace(handWritten, "[mount]\nrotation_deg = 0.5    # crooked", "", 1)
	assert.Equal(t, bare+"\n[mount]\nseat_mountings = 5\n", rewritten(t, bare, func(s *Strip) { s.Mount.SeatMountings = 5 }))
}

func TestRewriteRefusesWhatItCannotKeep(t *testing.T) {
	inline := `strip = "L-01"
foot = "left"
rows = 2
cols = 7
pitch_mm = [5.0, 5.0]
adc_bits = 12
calibration = {kpa_per_count = 0.75}
`
	s, err := ParseStrip("left.toml", []byte(inline))
	require.NoError(t, err)
	s.Calibration.KPaPerCount = 0.5
	_, err = Rewrite("left.toml", []byte(inline), s)
	assert.ErrorContains(t, err, "write [calibration] and [mount] as aplomb guide files shows")

	s.Calibration.KPaPerCount = -1
	_, err = Rewrite("left.toml", []byte(inline), s)
	assert.ErrorContains(t, err, "kpa_per_count: -1 kPa: must be above 0")

	s.Calibration.KPaPerCount, s.Name = 0.5, "L-02"
	_, err = Rewrite("left.toml", []byte(handWritten), s)
	assert.Error(t, err, "another strip's profile")
}

// A rewritten profile has the given values, for any text before.
func TestRewriteWritesTheGivenValues(t *testing.T) {
	number := rapid.Float64Range(0.1, 3)
	calibration := rapid.Custom(func(t *rapid.T) Calibration {
		c := Calibration{KPaPerCount: number.Draw(t, "kPa"), GainSD: rapid.Float64Range(0, 0.5).Draw(t, "gain sd")}
		if rapid.Bool().Draw(t, "zeroed") {
			c.ZeroCounts = rapid.SliceOfN(number, 14, 14).Draw(t, "zero")
			c.NoiseCounts = rapid.SliceOfN(number, 14, 14).Draw(t, "noise")
		}
		if rapid.Bool().Draw(t, "bent") {
			c.KPaPerCount, c.Curve = 0, "points"
			x := 0.0
			for range 3 {
				c.Counts, c.KPa = append(c.Counts, x), append(c.KPa, 2*x)
				x += number.Draw(t, "step")
			}
			c.RangeKPa = []float64{1, 2}
		}
		if rapid.Bool().Draw(t, "dated") {
			c.Date, c.MadeFor, c.Hash = Date{2026, 3, 14}, "L-01", "0123456789abcdef"
		}
		return c
	})
	rapid.Check(t, func(t *rapid.T) {
		text := []byte(handWritten)
		for range 2 {
			s, err := ParseStrip("left.toml", text)
			require.NoError(t, err)
			s.Calibration = calibration.Draw(t, "calibration")
			text, err = Rewrite("left.toml", text, s)
			require.NoError(t, err)
			after, err := ParseStrip("left.toml", text)
			require.NoError(t, err)
			require.Equal(t, s, after)
			require.Contains(t, string(text), "# From the sheet that came with it.")
		}
	})
}

func FuzzRewrite(f *testing.F) {
	f.Add(handWritten)
	f.Add("strip=\"a\"\nfoot='left'\nrows=1\ncols=1\npitch_mm=[5,5]\nadc_bits=8\n[calibration]\nkpa_per_count=1#")
	f.Fuzz(func(t *testing.T, text string) {
		s, err := ParseStrip("f", []byte(text))
		if err != nil {
			return
		}
		s.Calibration.GainSD = 0.25
		s.Calibration.Date = Date{2026, 3, 14}
		after, err := Rewrite("f", []byte(text), s)
		if err != nil {
			return // refused, and not half done
		}
		again, err := ParseStrip("f", after)
		require.NoError(t, err)
		require.Equal(t, s, again)
	})
}

func TestSignedCalibrationIsIntact(t *testing.T) {
	s, err := ParseStrip("left.toml", []byte(handWritten))
	require.NoError(t, err)
	c := &s.Calibration
	assert.NoError(t, c.Intact(s), "nothing is claimed")
	c.Date = Date{2026, 3, 14}
	c.SetHash(s)
	assert.NoError(t, c.Intact(s))
	assert.Empty(t, s.CalibrationDoubts(c.Date.time()))
	c.KPaPerCount = math.Nextafter(c.KPaPerCount, 1)
	assert.ErrorContains(t, c.Intact(s), "not as it was made")
	c.MadeFor = "L-02"
	assert.ErrorContains(t, c.Intact(s), "was made for strip L-02")
}

// A strip's reading without load implies no scale in kPa.
func TestZeroImpliesNoScale(t *testing.T) {
	s, err := ParseStrip("left.toml", []byte(handWritten))
	require.NoError(t, err)
	s.Calibration.ZeroCounts = make([]float64, s.Cells())
	assert.Empty(t, s.CalibrationDoubts(Date{2026, 3, 14}.time()))
}
