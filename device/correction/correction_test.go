package correction_test

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/device"
	"aplomb/device/correction"
)

var began = time.Date(2026, 3, 14, 10, 0, 0, 123456789, time.UTC)

func shoe(code string) *device.Shoe {
	return &device.Shoe{Code: code, PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5}
}

func recorded() device.Metadata {
	m := device.Metadata{Dancer: "D7", Visit: "2026-03-14", Started: began, Support: "barre", Floor: "wood", MassKG: 55}
	for _, f := range device.Feet {
		m.Sides[f] = &device.Side{
			Strip: &device.Strip{
				Name: "S-" + f.String(), Foot: f, Rows: 2, Cols: 3, PitchMM: [2]float64{12, 11}, CellMM: [2]float64{12, 11}, ADCBits: 12, SaturatesAt: 4095,
				FirstCell: "back-lateral", Scan: "rows", Calibration: device.Calibration{KPaPerCount: 0.75},
			},
			Shoe: shoe("A"), Mounting: "at ten", Clock: "strip", Format: "binary", Baud: 1000 + int(f),
		}
	}
	return m
}

func ptr[T any](v T) *T { return &v }

// Each correction replaces the values of earlier ones in the fields that it sets.
func TestApply(t *testing.T) {
	before := recorded()
	h := correction.New("0123456789", began)
	h = h.Add(correction.Entry{At: began.Add(time.Hour), Dancer: ptr("D8"), Floor: ptr(""), MassKG: ptr(0.0), Left: &correction.Side{Shoe: ptr(device.TOML(shoe("B"))), Mark: ptr(2)}})
	h = h.Add(correction.Entry{At: began.Add(2 * time.Hour), Floor: ptr("vinyl"), Right: &correction.Side{Padding: ptr("gel")}})
	now, err := h.Apply(before)
	require.NoError(t, err)
	want := recorded()
	want.Dancer, want.Floor, want.MassKG = "D8", "vinyl", 0
	want.Sides[device.Left].Shoe, want.Sides[device.Left].Mark, want.Sides[device.Right].Padding = shoe("B"), 2, "gel"
	assert.Equal(t, want, now)
	assert.Equal(t, recorded(), before, "what was recorded stays")

	all, err := h.Changes(before)
	require.NoError(t, err)
	assert.Equal(t, []correction.Change{{"dancer", "D7", "D8"}, {"left shoe", "A", "B"}, {"left mark", "", "2"}, {"right padding", "", "gel"}, {"floor", "wood", "vinyl"}, {"body mass", "55 kg", ""}}, all)
	assert.Equal(t, "body mass 55 kg → (not stated)", all[5].String())

	undone := h.Add(correction.Entry{At: began.Add(3 * time.Hour), Undo: true})
	now, err = undone.Apply(before)
	require.NoError(t, err)
	assert.Equal(t, recorded(), now)
	assert.Len(t, h.Entries, 2, "adding leaves the shorter history as it is")
	steps, err := undone.Steps(before)
	require.NoError(t, err)
	require.Len(t, steps, 3)
	assert.Equal(t, []correction.Change{{"right padding", "", "gel"}, {"floor", "", "vinyl"}}, steps[1].Changes)
	assert.True(t, steps[2].Undo)
	assert.Contains(t, steps[2].Changes, correction.Change{What: "left shoe", From: "B", To: "A"})
}

// Exchanging the lines exchanges the descriptions of the lines, but not those of strips
// and shoes.
func TestFeetSwapped(t *testing.T) {
	h := correction.New("0123456789", began).Add(correction.Entry{FeetSwapped: ptr(true), Left: &correction.Side{Mark: ptr(1)}})
	assert.True(t, h.FeetSwapped())
	now, err := h.Apply(recorded())
	require.NoError(t, err)
	want := recorded()
	want.Sides[device.Left].Baud, want.Sides[device.Right].Baud, want.Sides[device.Left].Mark = 1001, 1000, 1
	assert.Equal(t, want, now)
	assert.False(t, h.Add(correction.Entry{FeetSwapped: ptr(false)}).FeetSwapped())
	assert.False(t, h.Add(correction.Entry{Undo: true}).FeetSwapped())

	alone := recorded()
	alone.Sides[device.Right] = nil
	_, err = correction.New("0123456789", began).Add(correction.Entry{FeetSwapped: ptr(true)}).Apply(alone)
	assert.ErrorContains(t, err, "where it has both")
	_, err = correction.New("0123456789", began).Add(correction.Entry{Right: &correction.Side{Mark: ptr(1)}}).Apply(alone)
	assert.ErrorContains(t, err, "correction 1: the recording has no right foot")
}

func TestRefused(t *testing.T) {
	for text, want := range map[string]string{
		``:                                "not a correction: unexpected end of JSON input",
		`[]`:                              "not a correction",
		`{"format": 1, "id": 5}`:          "not a correction",
		`{"format": 2}`:                   "written in version 2 of the format, this program reads up to 1",
		`{"format": 1, "id": ""}`:         `id "" is not that of a recording`,
		`{"format": 1, "id": "../../x"}`:  "is not that of a recording",
		`{"format": 1, "id": "0", "x":1}`: `unknown field "x"`,
		`{"format": 1, "id": "0"} {}`:     "not a correction: invalid character",
		`{"format": 1, "id": "0", "corrections": [{"undo": true, "floor": "x"}]}`:                     "correction 1: undo stands alone",
		`{"format": 1, "id": "0", "corrections": [{}, {"floor": "a\nb"}]}`:                            "correction 2: floor",
		`{"format": 1, "id": "0", "corrections": [{"dancer": "D7\u202e"}]}`:                           "correction 1: dancer",
		`{"format": 1, "id": "0", "corrections": [{"left": {"mark": 3}}]}`:                            "mark 3",
		`{"format": 1, "id": "0", "corrections": [{"mass_kg": -1}]}`:                                  "mass_kg -1",
		`{"format": 1, "id": "0", "corrections": [{"mass_kg": 1e300}]}`:                               "mass_kg 1e+300: a body mass",
		`{"format": 1, "id": "0", "corrections": [{"left": {"shoe": 1}}]}`:                            "not a correction",
		`{"format": 1, "id": "0"` + strings.Repeat(" ", correction.MaxBytes) + `}`:                    "at most 64 KiB",
		`{"format": 1, "id": "0", "corrections": ` + strings.Repeat("[", 20_000):                      "not a correction",
		`{"format": 1, "id": "0", "corrections": [{"note": "` + strings.Repeat("a.", 20_000) + `"}]}`: "not a correction",
	} {
		_, err := correction.Parse([]byte(text))
		require.ErrorContains(t, err, want, "%.80s", text)
		assert.NotContains(t, err.Error(), "\n")
		assert.Less(t, len(err.Error()), 300)
	}
	h := correction.New("0", began)
	for range 20 {
		h = h.Add(correction.Entry{Left: &correction.Side{Shoe: ptr(strings.Repeat("# long\n", 600))}})
	}
	_, err := h.Encode()
	assert.ErrorContains(t, err, "the limit is 64: give the shoe an outline with fewer points")
}

// A written history is read back unchanged. A longer history begins with the bytes of the
// shorter one, except its end.
func TestRoundTrip(t *testing.T) {
	text := rapid.Ptr(rapid.StringMatching(`[ -~äé→]{0,20}`), true)
	side := rapid.Ptr(rapid.Custom(func(t *rapid.T) correction.Side {
		return correction.Side{Mark: rapid.Ptr(rapid.IntRange(0, 2), true).Draw(t, "mark"), Padding: text.Draw(t, "padding"), Mounting: text.Draw(t, "mounting"), Fixing: text.Draw(t, "fixing")}
	}), true)
	rapid.Check(t, func(t *rapid.T) {
		h := correction.New("0123456789", began)
		for i := range rapid.IntRange(0, 4).Draw(t, "entries") {
			e := correction.Entry{At: began.Add(time.Duration(i) * time.Hour)}
			if e.Undo = rapid.Bool().Draw(t, "undo"); !e.Undo {
				e.Dancer, e.Floor, e.MassKG = text.Draw(t, "dancer"), text.Draw(t, "floor"), rapid.Ptr(rapid.Float64Range(0, 300), true).Draw(t, "mass")
				e.Left, e.Right = side.Draw(t, "left"), side.Draw(t, "right")
			}
			before, err := h.Encode()
			require.NoError(t, err)
			longer := h.Add(e)
			after, err := longer.Encode()
			require.NoError(t, err)
			if i > 0 {
				assert.True(t, strings.HasPrefix(string(after), strings.TrimSuffix(string(before), "\n  ]\n}\n")), "append-only")
			}
			h = longer
		}
		data, err := h.Encode()
		require.NoError(t, err)
		back, err := correction.Parse(data)
		require.NoError(t, err)
		assert.Equal(t, h, back)
	})
}

// FuzzParse reads arbitrary bytes as a correction. An accepted correction is within its
// limits, is unchanged by writing and reading, and is applied or refused with an error of
// one line.
func FuzzParse(f *testing.F) {
	h := correction.New("0123456789", began).Add(correction.Entry{At: began, Dancer: ptr("D8"), Left: &correction.Side{Shoe: ptr(device.TOML(shoe("B")))}})
	data, err := h.Add(correction.Entry{At: began, Undo: true}).Add(correction.Entry{FeetSwapped: ptr(true)}).Encode()
	require.NoError(f, err)
	f.Add(data)
	f.Add([]byte(`{"format":1,"id":"0","corrections":[{"left":{"shoe":"` + strings.Repeat("a.", 5000) + `"}}]}`))
	f.Add([]byte(strings.Repeat("[", 10_000)))
	m := recorded()
	f.Fuzz(func(t *testing.T, data []byte) {
		h, err := correction.Parse(data)
		if err != nil {
			require.NotContains(t, err.Error(), "\n")
			return
		}
		one, err := json.Marshal(h)
		require.NoError(t, err)
		if again, err := correction.Parse(one); err == nil {
			two, err := json.Marshal(again)
			require.NoError(t, err)
			require.Equal(t, string(one), string(two))
		} else {
			require.Greater(t, len(one), correction.MaxBytes, fmt.Sprint(err))
		}
		now, err := h.Apply(m)
		if err != nil {
			require.NotContains(t, err.Error(), "\n")
			return
		}
		require.NoError(t, now.Check())
	})
}
