package device

import (
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const stripTOML = `strip = "L-01"
foot = "left"
rows = 5
cols = 8
pitch_mm = [5.0, 5.0]
cell_mm = [4.5, 4.5]
adc_bits = 12
saturates_at = 4000
first_cell = "front-medial"
scan = "serpentine"
[mount]
offset_mm = [0.5, -1.0]
rotation_deg = 2.0
seat_sd_mm = 0.8
seat_mountings = 12
[calibration]
kpa_per_count = 0.75
gain_sd = 0.02
`

const shoeTOML = `shoe = "A"
platform_mm = [36.0, 22.0]
outline_exponent = 2.5
box = "tapered"
crown_mm = 24.0
shank = "soft"
shank_length = "full"
padding = "none"
hours_worn = 3
vamp_mm = 31.5
wings_mm = 44
`

// edit replaces a line of a profile by other lines, or removes it for "".
func edit(profile, line, by string) string {
	if by != "" {
		by += "\n"
	}
	if !strings.Contains(profile, line+"\n") {
		panic("no line " + line)
	}
	return strings.Replace(profile, line+"\n", by, 1)
}

func TestParseStrip(t *testing.T) {
	s, err := ParseStrip("l.toml", []byte(stripTOML))
	require.NoError(t, err)
	assert.Equal(t, &Strip{
		Name: "L-01", Foot: Left, Rows: 5, Cols: 8,
		PitchMM: [2]float64{5, 5}, CellMM: [2]float64{4.5, 4.5},
		ADCBits: 12, SaturatesAt: 4000, FirstCell: "front-medial", Scan: "serpentine",
		Mount:       Mount{OffsetMM: [2]float64{0.5, -1}, RotationDeg: 2, SeatSDMM: 0.8, SeatMountings: 12},
		Calibration: Calibration{KPaPerCount: 0.75, GainSD: 0.02},
	}, s)
	assert.Equal(t, 11.0, s.Mount.SeatDOF())
}

// The tail side is read back from a profile. A profile without it is written as before
// the key existed.
func TestTailSide(t *testing.T) {
	s, err := ParseStrip("l.toml", []byte(stripTOML))
	require.NoError(t, err)
	assert.NotContains(t, TOML(s), "tail")
	assert.Zero(t, s.Mount.TailDirection())
	for _, side := range TailSides {
		s.Mount.TailSide = side
		back, err := ParseStrip("l.toml", []byte(TOML(s)))
		require.NoError(t, err)
		assert.Equal(t, s, back)
		d := s.Mount.TailDirection()
		assert.Equal(t, 1.0, math.Hypot(d[0], d[1]), side)
	}
}

func TestParseStripWhereItIsSilent(t *testing.T) {
	s, err := ParseStrip("r.toml", []byte("strip = \"R\"\nfoot = \"right\"\nrows = 1\ncols = 2\npitch_mm = [4, 5]\nadc_bits = 10\ncalibration = {kpa_per_count = 1}\n"))
	require.NoError(t, err)
	assert.Equal(t, Right, s.Foot)
	assert.Equal(t, s.PitchMM, s.CellMM)
	assert.Equal(t, 1023, s.SaturatesAt)
	assert.Equal(t, "back-lateral", s.FirstCell)
	assert.Equal(t, "rows", s.Scan)
	assert.Equal(t, DefaultSeatSDMM, s.Mount.SeatSDMM)
	assert.Equal(t, float64(DefaultSeatDOF), s.Mount.SeatDOF())
	assert.Equal(t, DefaultGainSD, s.Calibration.GainSD)
}

// The error for every mistake names file, line and key and says what is wrong.
func TestStripMistakes(t *testing.T) {
	for _, c := range []struct{ line, by, want string }{
		{`strip = "L-01"`, `strip = ""`, `l.toml:1: strip: give the strip a name`},
		{`strip = "L-01"`, ``, `l.toml: strip: give the strip a name (the key is missing)`},
		{`strip = "L-01"`, `strip = 1`, `l.toml:1: strip: incompatible types: TOML value has type int64; destination has type string`},
		{`foot = "left"`, `foot = "middle"`, `l.toml:2: foot "middle": write left or right`},
		{`foot = "left"`, `foot = ""`, `l.toml:2: foot: write left or right`},
		{`foot = "left"`, ``, `l.toml: foot: write left or right (the key is missing)`},
		{`rows = 5`, `rows = 0`, `l.toml:3: rows: 0 rows: at least 1`},
		{`rows = 5`, `rows = 5.5`, `l.toml:3: rows: incompatible types`},
		{`rows = 5`, `rows = "5"`, `l.toml:3: rows: incompatible types`},
		{`rows = 5`, `Rows = 5`, `l.toml:3: unknown key "Rows"`},
		{`rows = 5`, `rows = 5` + "\n" + `rows = 6`, `l.toml:4: Key 'rows' has already been defined`},
		{`rows = 5`, `rows = 99999999999999999999`, `l.toml:3: 99999999999999999999 is out of range`},
		{`rows = 5`, `rows = 9223372036854775807`, `l.toml:3: rows: 9223372036854775807 × 8 cells: at most 4096`},
		{`rows = 5`, `row = 5`, `l.toml:3: unknown key "row"`},
		{`rows = 5`, `rows 5`, `l.toml:3: expected`},
		{`cols = 8`, `cols = -8`, `l.toml:4: cols: -8 columns: at least 1`},
		{`cols = 8`, `cols = 1000`, `l.toml:3: rows: 5 × 1000 cells: at most 4096`},
		{`pitch_mm = [5.0, 5.0]`, `pitch_mm = [5.0, -5.0]`, `l.toml:5: pitch_mm: pitch [5 -5] mm: both from 0.01 to 500`},
		{`pitch_mm = [5.0, 5.0]`, `pitch_mm = [5.0, nan]`, `l.toml:5: pitch_mm`},
		{`pitch_mm = [5.0, 5.0]`, `pitch_mm = [5.0, inf]`, `l.toml:5: pitch_mm`},
		{`pitch_mm = [5.0, 5.0]`, `pitch_mm = [5.0]`, `l.toml:5: pitch_mm: expected array length 2`},
		{`pitch_mm = [5.0, 5.0]`, `pitch_mm = 5.0`, `l.toml:5: pitch_mm: `},
		{`pitch_mm = [5.0, 5.0]`, `pitch_mm = [5000, 5000]`, `l.toml:5: pitch_mm: pitch [5000 5000] mm: both from 0.01 to 500`},
		{`cell_mm = [4.5, 4.5]`, `cell_mm = [0, 0]`, `l.toml:6: cell_mm: cell [0 0] mm: both from 0.01 to 500`},
		{`cell_mm = [4.5, 4.5]`, `cell_mm = [5.5, 4.5]`, `l.toml:6: cell_mm: cell [5.5 4.5] mm is larger than the pitch [5 5] mm`},
		{`adc_bits = 12`, `adc_bits = 17`, `l.toml:7: adc_bits: 17 bits: 1 to 16`},
		{`adc_bits = 12`, `adc_bits = -1`, `l.toml:7: adc_bits: -1 bits: 1 to 16`},
		{`adc_bits = 12`, `adc_bits = 8`, `l.toml:8: saturates_at: 4000 counts: 1 to 255 for 8 bits`},
		{`saturates_at = 4000`, `saturates_at = 0`, `l.toml:8: saturates_at: 0 counts`},
		{`first_cell = "front-medial"`, `first_cell = "top"`, `l.toml:9: first_cell: "top": back-lateral, back-medial, front-lateral or front-medial`},
		{`scan = "serpentine"`, `scan = "snake"`, `l.toml:10: scan: "snake": rows, columns or serpentine`},
		{`offset_mm = [0.5, -1.0]`, `offset_mm = [nan, 0.0]`, `l.toml:12: offset_mm`},
		{`offset_mm = [0.5, -1.0]`, `offset_mm = [0.0, -1e4]`, `l.toml:12: offset_mm: offset [0 -10000] mm: at most 500 either way`},
		{`rotation_deg = 2.0`, `rotation_deg = inf`, `l.toml:13: rotation_deg`},
		{`seat_sd_mm = 0.8`, `seat_sd_mm = -0.8`, `l.toml:14: seat_sd_mm: -0.8 mm: 0 or more`},
		{`seat_mountings = 12`, `seat_mountings = 1`, `l.toml:15: seat_mountings: 1 mountings: a standard deviation takes at least 2`},
		{`seat_mountings = 12`, "seat_mountings = 12\ntail_side = \"top\"", `l.toml:16: tail_side: "top": back, front, big toe or little toe`},
		{`seat_mountings = 12`, "seat_mountings = 12\ntail_side = 2", `l.toml:16: mount.tail_side: incompatible types`},
		{`kpa_per_count = 0.75`, `kpa_per_count = 0`, `l.toml:17: kpa_per_count: 0 kPa: must be above 0`},
		{`kpa_per_count = 0.75`, ``, `l.toml: kpa_per_count: 0 kPa: must be above 0 (the key is missing)`},
		{`kpa_per_count = 0.75`, "kpa_per_count = 0.75\nrows = 5", `l.toml:18: unknown key "calibration.rows"`},
		{`gain_sd = 0.02`, `gain_sd = 1`, `l.toml:18: gain_sd: 1: a fraction, 0 to below 1`},
		{`[calibration]`, `[calibrate]`, `l.toml:16: unknown key "calibrate"`},
		{`[mount]`, `[[mount]]`, `l.toml:11: mount: type mismatch`},
	} {
		s, err := ParseStrip("l.toml", []byte(edit(stripTOML, c.line, c.by)))
		if assert.Error(t, err, "%s", c.by) {
			assert.Contains(t, err.Error(), c.want)
			assert.NotContains(t, err.Error(), "\n", "one line")
			assert.Nil(t, s)
		}
	}
}

// The line of a key is found in every spelling of the key.
func TestLinesOfKeysWrittenOtherwise(t *testing.T) {
	head := edit(strings.Split(stripTOML, "[mount]")[0], "rows = 5", "  'rows'\t= 5")
	for tail, want := range map[string]string{
		"\n# kpa_per_count = 3\ncalibration.kpa_per_count = -1\n":      "l.toml:13: kpa_per_count: -1 kPa",
		"calibration = { kpa_per_count = -1 }\n":                       "l.toml:11: kpa_per_count: -1 kPa",
		"[ calibration ]\n\"kpa_per_count\"=-1\n":                      "l.toml:12: kpa_per_count: -1 kPa",
		"[calibration]\r\nkpa_per_count = 1\r\n\r\ngain_sd = -1\r\n":   "l.toml:14: gain_sd: -1",
		"calibration = { kpa_per_count = 1, kpa_per_volt = 2 }\n":      `l.toml:11: unknown key "calibration.kpa_per_volt"`,
		"[calibration]\nkpa_per_count = 1\n[mount]\nmount = \"low\"\n": `l.toml:14: unknown key "mount.mount"`,
	} {
		_, err := ParseStrip("l.toml", []byte(head+tail))
		assert.ErrorContains(t, err, want, "%q", tail)
	}
}

func TestParseShoe(t *testing.T) {
	s, err := ParseShoe("a.toml", []byte(shoeTOML))
	require.NoError(t, err)
	assert.Equal(t, &Shoe{
		Code: "A", PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5, Box: "tapered", CrownMM: 24,
		Shank: "soft", ShankLength: "full", VampMM: 31.5, WingsMM: 44, Padding: "none", HoursWorn: 3,
	}, s)

	s, err = ParseShoe("a.toml", []byte("shoe = \"B\"\nplatform_mm = [36, 22]\n"))
	require.NoError(t, err)
	assert.Equal(t, 2.5, s.OutlineExponent)
}

// An outline is centred on its centroid and made counter-clockwise.
func TestOutlineOfAShoe(t *testing.T) {
	s, err := ParseShoe("a.toml", []byte("shoe = \"A\"\noutline_mm = [[10, 10], [10, 30], [46, 30], [46, 10]]\n"))
	require.NoError(t, err)
	p := s.Outline()
	lo, hi := p.Bounds()
	assert.InDeltaSlice(t, []float64{-18, -10}, lo[:], 1e-12)
	assert.InDeltaSlice(t, []float64{18, 10}, hi[:], 1e-12)
	assert.InDelta(t, 720, p.Area(), 1e-9)
	c := p.Moments().Centroid
	assert.InDeltaSlice(t, []float64{0, 0}, c[:], 1e-12)
	turn := (p[1][0]-p[0][0])*(p[2][1]-p[1][1]) - (p[1][1]-p[0][1])*(p[2][0]-p[1][0])
	assert.Positive(t, turn)
}

func TestSizeOfAShoe(t *testing.T) {
	measured := Shoe{PlatformMM: [2]float64{36, 22}, OutlineExponent: 3}
	assert.Equal(t, [2]float64{36, 22}, measured.Size())
	traced := Shoe{OutlineMM: [][2]float64{{5, 1}, {35, 1}, {20, 21}}}
	size := traced.Size()
	assert.InDeltaSlice(t, []float64{30, 20}, size[:], 1e-9)
}

func TestShoeMistakes(t *testing.T) {
	outline := "outline_mm = "
	for _, c := range []struct{ line, by, want string }{
		{`shoe = "A"`, `shoe = ""`, `a.toml:1: shoe: give the shoe a code`},
		{`shoe = "A"`, `shoe = "A\nB"`, `a.toml:1: shoe: a code has at most 60 printable characters`},
		{`shoe = "A"`, ``, `a.toml: shoe: give the shoe a code (the key is missing)`},
		{`platform_mm = [36.0, 22.0]`, `platform_mm = [36.0, 0.0]`, `a.toml:2: platform_mm: platform [36 0] mm: width and depth from 0.01 to 500`},
		{`platform_mm = [36.0, 22.0]`, ``, `a.toml: platform_mm: platform [0 0] mm: width and depth from 0.01 to 500 (the key is missing)`},
		{`platform_mm = [36.0, 22.0]`, `platform_mm = [36000, 22000]`, `a.toml:2: platform_mm: platform [36000 22000] mm: width and depth from 0.01 to 500`},
		{`platform_mm = [36.0, 22.0]`, `platform_mm = [36.0, 22.0, 4.0]`, `a.toml:2: platform_mm: expected array length 2`},
		{`outline_exponent = 2.5`, `outline_exponent = 0`, `a.toml:3: outline_exponent: 0: 1 to 200`},
		{`outline_exponent = 2.5`, `outline_exponent = nan`, `a.toml:3: outline_exponent: NaN: 1 to 200`},
		{`outline_exponent = 2.5`, outline + `[[0, 0], [1, 0], [0, 1]]`, `a.toml:3: outline_mm: give either outline_mm or platform_mm`},
		{`box = "tapered"`, `box = "round"`, `a.toml:4: box: "round": tapered, moderately tapered or square`},
		{`crown_mm = 24.0`, `crown_mm = -1`, `a.toml:5: crown_mm: -1 mm: 0 or more`},
		{`shank = "soft"`, `shank = "none"`, `a.toml:6: shank: "none": soft, medium or hard`},
		{`shank_length = "full"`, `shank_length = "half"`, `a.toml:7: shank_length: "half": full or three-quarter`},
		{`hours_worn = 3`, `hours_worn = nan`, `a.toml:9: hours_worn: NaN h: 0 or more`},
		{`vamp_mm = 31.5`, `vamp_mm = 3150`, `a.toml:10: vamp_mm: 3150 mm: from 0 to 500`},
		{`wings_mm = 44`, `wings_mm = nan`, `a.toml:11: wings_mm: NaN mm: from 0 to 500`},
		{`hours_worn = 3`, `hours_worn = "3"`, `a.toml:9: hours_worn: incompatible types`},
		{`hours_worn = 3`, `days_worn = 3`, `a.toml:9: unknown key "days_worn"`},
	} {
		_, err := ParseShoe("a.toml", []byte(edit(shoeTOML, c.line, c.by)))
		assert.ErrorContains(t, err, c.want, "%s", c.by)
	}

	for by, want := range map[string]string{
		`[[0, 0], [10, 0]]`:                            `at least 3 points, this has 2`,
		`[[0, 0], [10, 10], [10, 0], [0, 10]]`:         `crosses itself between point 1 and point 3`,
		`[[0, 0], [5, 0], [10, 0]]`:                    `encloses no area`,
		`[[0, 0], [10, 0], [10, 0], [0, 9]]`:           `point 2 and the next are the same`,
		`[[0, 0], [10, 0], [10, 9], [0, 0]]`:           `point 4 and the next are the same (the curve closes by itself)`,
		`[[0, 0], [10, 0], [nan, 9]]`:                  `point 3 is not finite`,
		`[[0, 0], [10, 0], [10, 1e9]]`:                 `point 3 at [10 1e+09] mm: at most 500 either way`,
		`[[0, 0], [10, 0], [5]]`:                       `expected array length 2`,
		`[[0, 0], [10, 0], [10, 10], [5, 0], [0, 10]]`: `crosses itself`, // touches an edge
	} {
		_, err := ParseShoe("a.toml", []byte("\nshoe = \"A\"\n"+outline+by+"\n"))
		assert.ErrorContains(t, err, "a.toml:3: outline_mm: ", by)
		assert.ErrorContains(t, err, want, by)
	}
	_, err := ParseShoe("a.toml", []byte("shoe = \"A\"\n"+outline+"["+strings.Repeat("[1, 1],", 5001)+"]\n"))
	assert.ErrorContains(t, err, "a.toml:2: outline_mm: 5001 points: at most 5000")
}

func TestReadProfiles(t *testing.T) {
	dir := t.TempDir()
	strip, shoe := filepath.Join(dir, "l.toml"), filepath.Join(dir, "a.toml")
	require.NoError(t, os.WriteFile(strip, []byte(stripTOML), 0o600))
	require.NoError(t, os.WriteFile(shoe, []byte(edit(shoeTOML, `shoe = "A"`, `shoe = ""`)), 0o600))

	s, err := ReadStrip(t.Context(), strip)
	require.NoError(t, err)
	assert.Equal(t, "L-01", s.Name)
	_, err = ReadShoe(t.Context(), shoe)
	assert.ErrorContains(t, err, shoe+":1: shoe: ")

	_, err = ReadStrip(t.Context(), filepath.Join(dir, "none.toml"))
	assert.ErrorIs(t, err, os.ErrNotExist)
	assert.ErrorContains(t, err, "strip profile: ")
	_, err = ReadShoe(t.Context(), filepath.Join(dir, "none.toml"))
	assert.ErrorIs(t, err, os.ErrNotExist)
}

// A file with an absurd value is refused with its bound. A profile in a recording is read,
// because the recording was made with it.
func TestAbsurdValues(t *testing.T) {
	absurd := func(profile string, edits map[string]string, parsed func(string) error, read func(string) error) {
		for line, want := range edits {
			key, _, _ := strings.Cut(line, " =")
			text := profile + line + "\n"
			for _, old := range strings.Split(profile, "\n") {
				if strings.HasPrefix(old, key+" =") {
					text = edit(profile, old, line)
				}
			}
			assert.NoError(t, parsed(text), line)
			path := filepath.Join(t.TempDir(), "p.toml")
			require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
			assert.ErrorContains(t, read(path), ": "+key+": "+want, line)
		}
	}
	absurd(shoeTOML, map[string]string{
		"hours_worn = 1e9": "1e+09 h: at most 1000",
		"crown_mm = 1e9":   "1e+09 mm: at most 500",
	}, func(text string) error {
		_, err := ParseShoe("a.toml", []byte(text))
		return err
	}, func(path string) error {
		_, err := ReadShoe(t.Context(), path)
		return err
	})
	absurd(stripTOML, map[string]string{
		"rotation_deg = -1e9":         "-1e+09 degrees: at most 360",
		"seat_sd_mm = 1e9":            "1e+09 mm: at most 50",
		"seat_mountings = 1000000000": "1e+09 mountings: at most 10000",
		"kpa_per_count = 1e9":         "1e+09 kPa: at most 250",
		"range_kpa = [0, 1e300]":      "1e+300 kPa: at most 1e+06",
		"curve_age_s = 1e9":           "1e+09 s: at most 86400",
		"valid_days = 1000000000":     "1e+09 days: at most 999999",
	}, func(text string) error {
		_, err := ParseStrip("l.toml", []byte(text))
		return err
	}, func(path string) error {
		_, err := ReadStrip(t.Context(), path)
		return err
	})
}

// A profile written by TOML is read back unchanged.
func TestProfileRoundTrip(t *testing.T) {
	strip, err := ParseStrip("l.toml", []byte(stripTOML))
	require.NoError(t, err)
	again, err := ParseStrip("again.toml", []byte(TOML(strip)))
	require.NoError(t, err, TOML(strip))
	assert.Equal(t, strip, again)

	for _, profile := range []string{shoeTOML, "shoe = \"B \\\"x\\\"\"\noutline_mm = [[0, 0], [30, 0], [15, 20]]\n"} {
		shoe, err := ParseShoe("a.toml", []byte(profile))
		require.NoError(t, err)
		back, err := ParseShoe("again.toml", []byte(TOML(shoe)))
		require.NoError(t, err, TOML(shoe))
		assert.Equal(t, shoe, back)
	}
}

// deepKey is a key of 20,000 parts, for which a parser needs gigabytes.
var deepKey = strings.Repeat("a.", 20_000) + "a = 1\n"

// allocated returns how many bytes the process has allocated so far.
func allocated() uint64 {
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return m.TotalAlloc
}

// Arbitrary bytes are refused or give a profile that can be used and written.
func FuzzParseStrip(f *testing.F) {
	f.Add([]byte(stripTOML))
	f.Add([]byte(head + calibrationTOML))
	f.Add([]byte(head + "curve = \"power\"\nkpa_at_one_count = 0.02\nexponent = 1.4\n"))
	f.Add([]byte("adc_bits = -9\n"))
	f.Add([]byte("[mount]\nmount = [[["))
	f.Add([]byte(deepKey))
	f.Fuzz(func(t *testing.T, data []byte) {
		before := allocated()
		s, err := ParseStrip("f.toml", data)
		require.Less(t, allocated()-before, uint64(4<<20+8192*len(data)))
		if err != nil {
			require.Nil(t, s)
			require.True(t, strings.HasPrefix(err.Error(), "f.toml:"), err.Error())
			return
		}
		require.NoError(t, s.Check())
		seen := make(map[[2]int]bool)
		for k := range s.Cells() {
			row, col := s.RowCol(k)
			seen[[2]int{row, col}] = true
		}
		require.Len(t, seen, s.Cells())
		require.Positive(t, s.Outline().Area())
		top := s.Curve().KPa(s.Cells()-1, float64(s.SaturatesAt))
		require.True(t, top > 0, top)
		again, err := ParseStrip("again.toml", []byte(TOML(s)))
		require.NoError(t, err)
		require.Equal(t, s, again)
	})
}

func FuzzParseShoe(f *testing.F) {
	f.Add([]byte(shoeTOML))
	f.Add([]byte("shoe = \"A\"\noutline_mm = [[0, 0], [30, 0], [15, 20]]\n"))
	f.Add([]byte("shoe = \"A\"\nplatform_mm = [1e-300, 5e-324]\n"))
	f.Add([]byte(deepKey))
	f.Fuzz(func(t *testing.T, data []byte) {
		before := allocated()
		s, err := ParseShoe("f.toml", data)
		require.Less(t, allocated()-before, uint64(4<<20+8192*len(data)))
		if err != nil {
			require.Nil(t, s)
			require.True(t, strings.HasPrefix(err.Error(), "f.toml:"), err.Error())
			return
		}
		require.NoError(t, s.Check())
		require.Positive(t, s.Outline().Area())
		again, err := ParseShoe("again.toml", []byte(TOML(s)))
		require.NoError(t, err)
		require.Equal(t, s, again)
	})
}

func TestGhostingInAProfile(t *testing.T) {
	read := func(keys string) (*Strip, error) {
		return ParseStrip("s.toml", []byte("strip = 'S'\nfoot = 'left'\nrows = 5\ncols = 8\npitch_mm = [5, 5]\nadc_bits = 12\n[calibration]\nkpa_per_count = 0.5\n"+keys))
	}
	s, err := read("")
	require.NoError(t, err)
	assert.Zero(t, s.Crosstalk.Tie())
	assert.NotContains(t, TOML(s), "ghosting")

	s, err = read("[ghosting]\ntie_ohm = inf\n")
	require.NoError(t, err)
	assert.True(t, math.IsInf(s.Crosstalk.Tie(), 1))
	again, err := ParseStrip("again", []byte(TOML(s)))
	require.NoError(t, err)
	assert.Equal(t, s, again)

	s, err = read("[ghosting]\ntie_ohm = 1e3\none_count_ohm = 1e7\n")
	require.NoError(t, err)
	assert.Equal(t, 1e-4, s.Crosstalk.Tie())

	for keys, want := range map[string]string{
		"[ghosting]\ntie_ohm = -1\n":                     "s.toml:10: tie_ohm",
		"[ghosting]\ntie_ohm = nan\n":                    "tie_ohm",
		"[ghosting]\ntie_ohm = 100\n":                    "one_count_ohm: give",
		"[ghosting]\ntie_ohm = 1\none_count_ohm = -2\n":  "one_count_ohm",
		"[ghosting]\ntie_ohm = 1\none_count_ohm = inf\n": "one_count_ohm",
	} {
		_, err := read(keys)
		require.ErrorContains(t, err, want, keys)
	}
}
