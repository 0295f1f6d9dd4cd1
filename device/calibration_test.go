package device

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// head is the profile of a strip of 2 × 3 cells up to its calibration.
const head = "strip = \"G\"\nfoot = \"left\"\nrows = 2\ncols = 3\npitch_mm = [4.0, 5.0]\nadc_bits = 12\n[calibration]\n"

const calibrationTOML = `curve = "points"
counts = [0, 300, 1000, 2200]
kpa = [0.0, 150.0, 700.0, 2500.0]
gains = [0.9, 1.1, 1.05, 0.95, 1.2, 0.8]
gain_sd = 0.012
hysteresis = 0.04
creep_per_decade = -0.01
range_kpa = [100.0, 2500.0]
noise_counts = [1.5, 1.5, 1.5, 1.5, 1.5, 2]
zero_counts = [20, 21, 22.5, 19, 0, 4095]
date = 2026-03-14
made_for = "G"
valid_days = 90
hash = "d3f84d214b63282b"
`

func whole() *Calibration {
	return &Calibration{
		Curve: "points", Counts: []float64{0, 300, 1000, 2200}, KPa: []float64{0, 150, 700, 2500},
		Gains: uneven, GainSD: 0.012, Hysteresis: 0.04, CreepPerDecade: -0.01, RangeKPa: []float64{100, 2500},
		NoiseCounts: []float64{1.5, 1.5, 1.5, 1.5, 1.5, 2}, ZeroCounts: []float64{20, 21, 22.5, 19, 0, 4095},
		Date: Date{2026, time.March, 14}, MadeFor: "G", ValidDays: 90, Hash: "d3f84d214b63282b",
	}
}

func TestParseCalibration(t *testing.T) {
	s, err := ParseStrip("g.toml", []byte(head+calibrationTOML))
	require.NoError(t, err)
	assert.Equal(t, whole(), &s.Calibration)
	assert.True(t, s.Calibration.Measured())

	s, err = ParseStrip("g.toml", []byte(head+"curve = \"power\"\nkpa_at_one_count = 0.02\nexponent = 1.4\n"))
	require.NoError(t, err)
	assert.Equal(t, Calibration{Curve: "power", KPaAtOneCount: 0.02, Exponent: 1.4, GainSD: DefaultGainSD}, s.Calibration)
	assert.False(t, s.Calibration.Measured())
}

// A calibration written by TOML is read back unchanged. A profile without the newer keys
// is written as before these keys existed.
func TestCalibrationRoundTrip(t *testing.T) {
	for _, c := range []*Calibration{whole(), &aPower, {KPaPerCount: 0.75}} {
		s := calibrated(*c)
		again, err := ParseStrip("again.toml", []byte(TOML(s)))
		require.NoError(t, err, TOML(s))
		assert.Equal(t, s, again)
	}
	_, block, _ := strings.Cut(TOML(calibrated(Calibration{KPaPerCount: 0.75, GainSD: 0.03})), "[calibration]\n")
	assert.Equal(t, "kpa_per_count = 0.75\ngain_sd = 0.03\n", block)
}

// The error for every mistake names file, line and key and says what is wrong.
// The calibration begins in line 8.
func TestCalibrationMistakes(t *testing.T) {
	for _, c := range []struct{ line, by, want string }{
		{`curve = "points"`, `curve = "cubic"`, `g.toml:8: curve: "cubic": linear, power or points`},
		{`curve = "points"`, `curve = "linear"`, `g.toml:9: counts: not a key of a curve that is linear: take it out, or write another curve`},
		{`curve = "points"`, ``, `g.toml:8: counts: not a key of a curve that is linear`},
		{`curve = "points"`, "curve = \"points\"\nkpa_per_count = 0.75", `g.toml:9: kpa_per_count: not a key of a curve that is points`},
		{`counts = [0, 300, 1000, 2200]`, ``, `counts: 0 knots: 2 to 1000`},
		{`counts = [0, 300, 1000, 2200]`, `counts = [0]`, `g.toml:9: counts: 1 knots: 2 to 1000`},
		{`counts = [0, 300, 1000, 2200]`, `counts = [0, 300, 1000]`, `g.toml:10: kpa: 4 pressures for 3 counts: one for each`},
		{`counts = [0, 300, 1000, 2200]`, `counts = [10, 300, 1000, 2200]`, `g.toml:9: counts: the first knot is [10 counts, 0 kPa]: it must be [0, 0], an unloaded cell`},
		{`counts = [0, 300, 1000, 2200]`, `counts = [0, 1000, 300, 2200]`, `g.toml:9: counts: 300 after 1000: knots must rise`},
		{`counts = [0, 300, 1000, 2200]`, `counts = [0, 300, 300, 2200]`, `g.toml:9: counts: 300 after 300: knots must rise`},
		{`counts = [0, 300, 1000, 2200]`, `counts = [0, 300, nan, 2200]`, `g.toml:9: counts: NaN after 300: knots must rise`},
		{`counts = [0, 300, 1000, 2200]`, `counts = [0, 300, 1000, inf]`, `g.toml:9: counts: +Inf after 1000: knots must rise`},
		{`counts = [0, 300, 1000, 2200]`, `counts = "many"`, `g.toml:9: calibration.counts: incompatible types`},
		{`kpa = [0.0, 150.0, 700.0, 2500.0]`, `kpa = [0, 150, 140, 2500]`, `g.toml:10: kpa: 140 after 150: pressures must rise with the counts`},
		{`kpa = [0.0, 150.0, 700.0, 2500.0]`, `kpa = [0, 150, nan, 2500]`, `g.toml:10: kpa: NaN after 150: pressures must rise with the counts`},
		{`kpa = [0.0, 150.0, 700.0, 2500.0]`, `kpa = [0, 150, 700, 2.5e9]`, `g.toml:8: curve: 6.45e+09 kPa at 4095 counts: no strip of such a range`},
		{`gains = [0.9, 1.1, 1.05, 0.95, 1.2, 0.8]`, `gains = [1, 1]`, `g.toml:11: gains: 2 numbers: one for each of the 6 cells, in the order of the scan`},
		{`gains = [0.9, 1.1, 1.05, 0.95, 1.2, 0.8]`, `gains = [1, 1, 1, 1, 1, 1.1]`, `g.toml:11: gains: their mean is 1.0167: divide each by it, so that it is 1`},
		{`gains = [0.9, 1.1, 1.05, 0.95, 1.2, 0.8]`, `gains = [1, 1, 1, 2, 1, 0]`, `g.toml:11: gains: 0 for cell 6 of the scan: 0.1 to 10`},
		{`gains = [0.9, 1.1, 1.05, 0.95, 1.2, 0.8]`, `gains = [1, 1, 1, 3, 1, -1]`, `g.toml:11: gains: -1 for cell 6 of the scan`},
		{`gains = [0.9, 1.1, 1.05, 0.95, 1.2, 0.8]`, `gains = [1, nan, 1, 1, 1, 1]`, `g.toml:11: gains: NaN for cell 2 of the scan`},
		{`gain_sd = 0.012`, `gain_sd = nan`, `g.toml:12: gain_sd: NaN: a fraction, 0 to below 1`},
		{`hysteresis = 0.04`, `hysteresis = 4`, `g.toml:13: hysteresis: 4: a fraction, 0 to below 1`},
		{`hysteresis = 0.04`, `hysteresis = nan`, `g.toml:13: hysteresis: NaN`},
		{`creep_per_decade = -0.01`, `creep_per_decade = -1`, `g.toml:14: creep_per_decade: -1: a fraction, below 1 either way`},
		{`creep_per_decade = -0.01`, `creep_per_decade = nan`, `g.toml:14: creep_per_decade: NaN`},
		{`creep_per_decade = -0.01`, `creep_sd = 1.5`, `g.toml:14: creep_sd: 1.5: a fraction, 0 to below 1`},
		{`creep_per_decade = -0.01`, `creep_sd = nan`, `g.toml:14: creep_sd: NaN`},
		{`creep_per_decade = -0.01`, `curve_age_s = -1`, `g.toml:14: curve_age_s: -1: 0.1 s or more`},
		{`creep_per_decade = -0.01`, `curve_age_s = inf`, `g.toml:14: curve_age_s: +Inf`},
		{`range_kpa = [100.0, 2500.0]`, `range_kpa = [100.0]`, `g.toml:15: range_kpa: [100]: the least and the largest pressure calibrated, kPa`},
		{`range_kpa = [100.0, 2500.0]`, `range_kpa = [2500, 100]`, `g.toml:15: range_kpa: [2500 100]`},
		{`range_kpa = [100.0, 2500.0]`, `range_kpa = [100, nan]`, `g.toml:15: range_kpa: [100 NaN]`},
		{`noise_counts = [1.5, 1.5, 1.5, 1.5, 1.5, 2]`, `noise_counts = [1.5]`, `g.toml:16: noise_counts: 1 numbers: one for each of the 6 cells`},
		{`noise_counts = [1.5, 1.5, 1.5, 1.5, 1.5, 2]`, `noise_counts = [1, 1, 1, 1, 1, -1]`, `g.toml:16: noise_counts: -1 for cell 6`},
		{`zero_counts = [20, 21, 22.5, 19, 0, 4095]`, `zero_counts = [20, 21, 22.5, 19, 0, 4096]`, `g.toml:17: zero_counts: 4096 for cell 6 of the scan: 0 to 4095`},
		{`date = 2026-03-14`, `date = "2026-03-14"`, `g.toml:18: a date is written as 2026-03-14, without quotes and without a time`},
		{`date = 2026-03-14`, `date = 2026-03-14T10:30:00Z`, `g.toml:18: a date is written as 2026-03-14, without quotes and without a time`},
		{`date = 2026-03-14`, `date = 2026-02-30`, `g.toml:18: `},
		{`made_for = "G"`, `made_for = "G\nH"`, `g.toml:19: made_for: a name has at most 60 printable characters`},
		{`valid_days = 90`, `valid_days = -1`, `g.toml:20: valid_days: -1 days: 0 or more`},
		{`valid_days = 90`, `valid_years = 1`, `g.toml:20: unknown key "calibration.valid_years"`},
	} {
		s, err := ParseStrip("g.toml", []byte(head+edit(calibrationTOML, c.line, c.by)))
		if assert.Error(t, err, "%s", c.by) {
			assert.Contains(t, err.Error(), c.want)
			assert.NotContains(t, err.Error(), "\n", "one line")
			assert.Nil(t, s)
		}
	}
	for by, want := range map[string]string{
		"curve = \"power\"\n":                                          "kpa_at_one_count: 0 kPa: must be above 0 (the key is missing)",
		"curve = \"power\"\nkpa_at_one_count = 1\n":                    "exponent: 0: 0.2 to 5 (the key is missing)",
		"curve = \"power\"\nkpa_at_one_count = 1\nexponent = nan\n":    "g.toml:10: exponent: NaN: 0.2 to 5",
		"curve = \"power\"\nkpa_at_one_count = 1\nexponent = 4\n":      "g.toml:8: curve: 2.81e+14 kPa at 4095 counts",
		"curve = \"power\"\nkpa_at_one_count = inf\nexponent = 1\n":    "g.toml:9: kpa_at_one_count: +Inf kPa",
		"curve = \"power\"\nkpa_per_count = 1\nkpa_at_one_count = 1\n": "g.toml:9: kpa_per_count: not a key of a curve that is power",
	} {
		_, err := ParseStrip("g.toml", []byte(head+by))
		assert.ErrorContains(t, err, want, "%q", by)
	}
}

// The checksum must never change, or all existing calibrations would count as changed.
// The digits are those of sha256sum (GNU coreutils 9.1) for this text, in one line without
// a line feed:
//
//	["calibration 1","G",2,3,[4,5],[4,5],12,4095,"points",0,0,0,[0,300,1000,2200],[0,150,700,2500],
//	[0.9,1.1,1.05,0.95,1.2,0.8],0.012,0.04,-0.01,[100,2500],[1.5,1.5,1.5,1.5,1.5,2],
//	[20,21,22.5,19,0,4095],"2026-03-14","G",90]
func TestChecksumOfAnExample(t *testing.T) {
	const want = "d3f84d214b63282b"
	assert.Equal(t, want, whole().Sum(calibrated(*whole())))
	s, err := ParseStrip("g.toml", []byte(TOML(calibrated(*whole()))))
	require.NoError(t, err)
	assert.Equal(t, want, s.Calibration.Sum(s), "through a file")
}

// The checksum covers the calibration and the strip's cells, and nothing else.
func TestChecksumCoversCalibrationAndCells(t *testing.T) {
	sum := func(change func(s *Strip, c *Calibration)) string {
		s := calibrated(*whole())
		change(s, &s.Calibration)
		return s.Calibration.Sum(s)
	}
	want := sum(func(*Strip, *Calibration) {})
	for name, change := range map[string]func(s *Strip, c *Calibration){
		"name":       func(s *Strip, _ *Calibration) { s.Name = "H" },
		"rows":       func(s *Strip, _ *Calibration) { s.Rows, s.Cols = 3, 2 },
		"pitch":      func(s *Strip, _ *Calibration) { s.PitchMM[0]++ },
		"cell":       func(s *Strip, _ *Calibration) { s.CellMM[0]-- },
		"converter":  func(s *Strip, _ *Calibration) { s.ADCBits++ },
		"saturation": func(s *Strip, _ *Calibration) { s.SaturatesAt-- },
		"curve":      func(_ *Strip, c *Calibration) { c.Curve = "power" },
		"line":       func(_ *Strip, c *Calibration) { c.KPaPerCount++ },
		"power":      func(_ *Strip, c *Calibration) { c.KPaAtOneCount++ },
		"exponent":   func(_ *Strip, c *Calibration) { c.Exponent++ },
		"counts":     func(_ *Strip, c *Calibration) { c.Counts = []float64{0, 300, 1000, 2200.5} },
		"kPa":        func(_ *Strip, c *Calibration) { c.KPa = c.KPa[:3] },
		"gains":      func(_ *Strip, c *Calibration) { c.Gains = nil },
		"gain sd":    func(_ *Strip, c *Calibration) { c.GainSD /= 2 },
		"hysteresis": func(_ *Strip, c *Calibration) { c.Hysteresis = 0 },
		"creep":      func(_ *Strip, c *Calibration) { c.CreepPerDecade = 0 },
		"creep sd":   func(_ *Strip, c *Calibration) { c.UCreep = 0.001 },
		"curve age":  func(_ *Strip, c *Calibration) { c.CurveAgeS = 5 },
		"range":      func(_ *Strip, c *Calibration) { c.RangeKPa = nil },
		"noise":      func(_ *Strip, c *Calibration) { c.NoiseCounts = nil },
		"zero":       func(_ *Strip, c *Calibration) { c.ZeroCounts = nil },
		"date":       func(_ *Strip, c *Calibration) { c.Date.Day++ },
		"made for":   func(_ *Strip, c *Calibration) { c.MadeFor = "H" },
		"valid":      func(_ *Strip, c *Calibration) { c.ValidDays++ },
	} {
		assert.NotEqual(t, want, sum(change), name)
	}
	for name, change := range map[string]func(s *Strip, c *Calibration){
		"hash":        func(_ *Strip, c *Calibration) { c.Hash = "" },
		"mount":       func(s *Strip, _ *Calibration) { s.Mount.OffsetMM[0]++ },
		"foot":        func(s *Strip, _ *Calibration) { s.Foot = Right },
		"orientation": func(s *Strip, _ *Calibration) { s.FirstCell = "front-medial" },
	} {
		assert.Equal(t, want, sum(change), name)
	}
}

// The days were counted by Python's datetime (3.11): date(2026, 3, 14) + timedelta(90), and 180.
func TestValidUntil(t *testing.T) {
	c := Calibration{Date: Date{2026, 3, 14}, ValidDays: 90}
	assert.Equal(t, Date{2026, 6, 12}, c.ValidUntil())
	c.ValidDays = 0
	assert.Equal(t, Date{2026, 9, 10}, c.ValidUntil())
	assert.Zero(t, new(Calibration).ValidUntil())
}

func TestCalibrationDoubts(t *testing.T) {
	fresh := time.Date(2026, 4, 1, 12, 0, 0, 0, time.UTC)
	made := Date{2026, 3, 14}
	old := func(strip string, days int) []CalibrationDoubt {
		return []CalibrationDoubt{{Fault: OutOfDate, Strip: strip, Date: made, ValidDays: days}}
	}
	for name, c := range map[string]struct {
		change func(s *Strip, c *Calibration) // before the hash is made
		edit   func(s *Strip, c *Calibration) // after
		at     time.Time
		want   []CalibrationDoubt
	}{
		"good":             {at: fresh},
		"on its last day":  {at: time.Date(2026, 6, 12, 23, 0, 0, 0, time.UTC)},
		"out of date":      {at: time.Date(2026, 6, 14, 0, 0, 0, 0, time.UTC), want: old("G", 90)},
		"made that day":    {at: time.Date(2026, 3, 13, 20, 0, 0, 0, time.UTC)}, // in a time zone where the 14th has begun
		"from the future":  {at: time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC), want: []CalibrationDoubt{{Fault: LaterThanUsed, Strip: "G", Date: made}}},
		"time not known":   {},
		"good by default":  {change: func(_ *Strip, c *Calibration) { c.ValidDays = 0 }, at: time.Date(2026, 9, 10, 0, 0, 0, 0, time.UTC)},
		"old by default":   {change: func(_ *Strip, c *Calibration) { c.ValidDays = 0 }, at: time.Date(2026, 9, 12, 0, 0, 0, 0, time.UTC), want: old("G", 180)},
		"edited":           {edit: func(_ *Strip, c *Calibration) { c.GainSD = 0.001 }, at: fresh, want: []CalibrationDoubt{{Fault: NotAsMade, Strip: "G"}}},
		"another strip's":  {edit: func(s *Strip, _ *Calibration) { s.Name = "H" }, at: fresh, want: []CalibrationDoubt{{Fault: MadeForOther, Strip: "H", MadeFor: "G"}}},
		"another's, named": {edit: func(s *Strip, c *Calibration) { s.Name, c.MadeFor = "H", "H" }, at: fresh, want: []CalibrationDoubt{{Fault: NotAsMade, Strip: "H"}}},
		"by hand":          {edit: func(_ *Strip, c *Calibration) { c.Hash, c.Date, c.MadeFor = "", Date{}, "" }, at: fresh, want: []CalibrationDoubt{{Fault: NoHash, Strip: "G"}, {Fault: NoDate, Strip: "G"}}},
		"moved elsewhere":  {edit: func(s *Strip, _ *Calibration) { s.Foot, s.Mount.RotationDeg = Right, 3 }, at: fresh},
		"a number only":    {edit: func(_ *Strip, c *Calibration) { *c = Calibration{KPaPerCount: 0.75, GainSD: 0.02} }, at: fresh},
	} {
		s := calibrated(*whole())
		if c.change != nil {
			c.change(s, &s.Calibration)
		}
		s.Calibration.Hash = s.Calibration.Sum(s)
		if c.edit != nil {
			c.edit(s, &s.Calibration)
		}
		assert.Equal(t, c.want, s.CalibrationDoubts(c.at), name)
	}
}
