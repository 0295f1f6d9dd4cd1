package agreement

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/device/reference"
)

// tapTimes has unequal pauses, before and after the loads.
var tapTimes = []float64{0.5, 1.1, 2.3, 27.2, 28.1, 28.8}

const (
	rise, held4, period, firstLoad = 0.4, 2.0, 4.0, 4.0
	loads                          = 5
	lasts                          = 30.0
)

// truth returns the load in N and its place, mm, at t, s: taps as half a sine of 60 ms, and
// five loads with straight edges of 0.4 s and 2 s at their level. During an edge the place
// moves by 3 mm.
func truth(t float64) (n, medialMM, overMM float64) {
	for _, tap := range tapTimes {
		if in := (t - tap) / 0.06; in > 0 && in < 1 {
			return 150 * math.Sin(math.Pi*in), 0, 0
		}
	}
	i := math.Floor((t - firstLoad) / period)
	if i < 0 || i >= loads {
		return 0, math.NaN(), math.NaN()
	}
	in := t - firstLoad - i*period
	level := max(0, min(1, in/rise, (2*rise+held4-in)/rise))
	return level * (400 + 40*i), 1 - 0.5*i, -2 + 0.8*i + 3*(1-level)
}

// danced returns the result of a strip that reads the truth with errors, at 100 frames a
// second. The function error changes load, medial and over of a load.
func danced(error func(load int, n, medialMM, overMM float64) (float64, float64, float64)) *measure.Result {
	r := &measure.Result{Meta: device.Metadata{Started: time.Date(2026, 3, 14, 10, 0, 0, 0, time.UTC)}}
	r.Meta.Sides[device.Left] = &device.Side{Strip: &device.Strip{Name: "L-01"}}
	r.Recording.Feet.Set(device.Left, measure.FootLog{RateHz: 100})
	r.Seats.Set(device.Left, measure.Seat{
		Evidence: measure.EvidencePress, Over: measure.Estimate{CI95: [2]float64{-0.3, 0.7}}, Medial: measure.Estimate{CI95: [2]float64{0.1, 0.7}},
	})
	for k := range int(lasts * 100) {
		t := float64(k) / 100
		n, m, o := truth(t)
		if i := int(math.Floor((t - firstLoad) / period)); i >= 0 && i < loads && !math.IsNaN(m) {
			n, m, o = error(i, n, m, o)
		}
		if n < 25 {
			m, o = math.NaN(), math.NaN()
		}
		r.Traces[device.Left] = append(r.Traces[device.Left], measure.Sample{T: t, LoadN: float32(n), MedialMM: float32(m), OverMM: float32(o)})
	}
	for i := range loads {
		begin := firstLoad + period*float64(i)
		n, m, o := truth(begin + 1)
		n, m, o = error(i, n, m, o)
		r.Releves = append(r.Releves, measure.Releve{N: i + 1, Foot: device.Left, Status: measure.Measured, StartS: begin,
			Hold: &measure.Hold{HoldStartS: begin + rise, HoldS: held4, LoadN: n, MedialMM: m, OverMM: o, UOverMM: 0.15, UMedialMM: 1, ULoadN: 1e-9}})
	}
	return r
}

func exact(_ int, n, m, o float64) (float64, float64, float64) { return n, m, o }

// plate returns the truth as a reference reads it with the given samples a second, on a
// clock that is ahead and runs faster.
func plate(rate, ahead, faster float64) *reference.Series {
	s := &reference.Series{Place: true}
	for k := range int(lasts * rate) {
		t := float64(k) / rate
		n, m, o := truth(t)
		s.Samples = append(s.Samples, reference.Sample{T: ahead + t*(1+faster), LoadN: n, MedialMM: m, OverMM: o})
	}
	return s
}

// changed returns a copy of a reference with every sample changed.
func changed(s *reference.Series, f func(*reference.Sample)) *reference.Series {
	c := *s
	c.Samples = slices.Clone(s.Samples)
	for i := range c.Samples {
		f(&c.Samples[i])
	}
	return &c
}

// A strip that reads the truth agrees with it at any sampling rate and clock of the
// reference; the estimated offset and rate are the reference's.
func TestAgreementOfWhatIsEqual(t *testing.T) {
	for _, rate := range []float64{1000, 240, 100, 60} {
		r, err := Of(danced(exact), plate(rate, 12.3456, 80e-6), Options{})
		require.NoError(t, err, rate)
		assert.Equal(t, "taps", r.Clock.By)
		assert.Equal(t, 6, r.Clock.Taps)
		assert.False(t, r.Clock.RateAssumed)
		assert.InDelta(t, 12.3456, r.Clock.OffsetS, 1.5e-3, rate)
		assert.InDelta(t, 80, r.Clock.RatePPM, 90, rate)
		assert.Less(t, *r.Clock.ResidualS, 2e-3)
		assert.InDelta(t, 0.004, r.Clock.US, 0.004)
		assert.Equal(t, loads, r.Frames.Loads, "taps are no loads")
		assert.Zero(t, r.Frames.Beside)
		assert.Empty(t, r.Refused)
		for _, c := range r.Measures {
			require.NotNil(t, c.Holds, c.Measure)
			assert.InDelta(t, 0, c.Holds.Bias, 0.02, c.Measure)
			assert.InDelta(t, 0, c.Holds.SD, 0.05, c.Measure)
			assert.Len(t, c.Pairs, loads)
			assert.Less(t, *c.RMSMotion, 3*(*c.ClockMotion)+0.02, "%s: the clocks explain what is left", c.Measure)
		}
		assert.Equal(t, loads, r.Measures[over].Inside)
	}
	noise := rand.New(rand.NewPCG(3, 3))
	r, err := Of(danced(exact), changed(plate(1000, 0, 0), func(s *reference.Sample) { s.LoadN += 4 * noise.NormFloat64() }), Options{})
	require.NoError(t, err)
	assert.Equal(t, 6, r.Clock.TapsReference, "noise is no tap")
	assert.InDelta(t, 0, r.Clock.OffsetS, 2e-3)
	steady := func(i int, n, m, o float64) (float64, float64, float64) { return n, m, o + 0.1*float64(i) }
	r, err = Of(danced(steady), changed(plate(240, 0, 0), func(s *reference.Sample) { s.OverMM = 0.01 * math.Sin(s.T) }), Options{})
	require.NoError(t, err)
	assert.Nil(t, r.Measures[over].Slope, "of a place that hardly changes")
	assert.Equal(t, []measure.Refusal{{Of: "slope, over_mm", Why: whyNoSlope}}, r.Refused)
}

// Known errors come back: the bias and standard deviation of the holds in closed form, the
// proportional error as the slope of the difference on the mean, 2(k−1)/(k+1) for readings
// that are k times the truth, and limits by the sum of both.
func TestKnownErrorsAreRecovered(t *testing.T) {
	off := []float64{0.1, -0.3, 0.2, 0.4, -0.4}
	strip := func(i int, n, m, o float64) (float64, float64, float64) { return 1.03 * n, m - 0.6, o + off[i] }
	r, err := Of(danced(strip), plate(1000, -3, 0), Options{})
	require.NoError(t, err)
	o, m, l := r.Measures[over], r.Measures[medial], r.Measures[load]
	assert.InDelta(t, 0, o.Holds.Bias, 5e-3)
	assert.InDelta(t, math.Sqrt(0.46/4), o.Holds.SD, 5e-3, "Σd² ÷ 4") // 0.01+0.09+0.04+0.16+0.16
	assert.InDelta(t, o.Holds.Bias+1.96*o.Holds.SD, o.Holds.Upper, 1e-12)
	assert.Equal(t, 2, o.Inside, "0.1 and 0.2 are within 1.96 × 0.15 = 0.294")
	assert.InDelta(t, -0.6, m.Holds.Bias, 5e-3)
	assert.InDelta(t, 0.6, *m.RMSHolds, 5e-3)
	assert.InDelta(t, 2*0.03/2.03, l.Slope.Value, 1e-3)
	assert.Equal(t, 3.0, l.Slope.DOF)
	assert.InDelta(t, 0.03*480, l.Holds.Bias, 0.1) // the mean level is 480 N
	assert.Zero(t, l.Inside)
	frames := 0
	for i, b := range l.Bins {
		frames += b.Frames
		assert.InDelta(t, 0.03*(b.From+b.To)/2, b.Bias, 0.03*(b.To-b.From)/2+0.5)
		assert.True(t, i == 0 || b.From == l.Bins[i-1].To)
	}
	assert.Equal(t, r.Frames.Compared, frames)
	assert.Equal(t, r.Frames.Compared, l.Frame.N)
	assert.InDelta(t, o.Holds.SD, o.Frame.SD, 0.1)
	assert.Greater(t, o.Frame.UpCI[1], o.Frame.Upper)
}

// A place is at + turn · flip · place in the reference's axes.
func TestAxesOfTheReference(t *testing.T) {
	sin, cos := math.Sincos(30 * math.Pi / 180)
	turned := changed(plate(240, 0, 0), func(s *reference.Sample) {
		x, y := s.MedialMM-40, s.OverMM+25
		s.MedialMM, s.OverMM, s.LoadN = -(cos*x + sin*y), -sin*x+cos*y, -s.LoadN
	})
	r, err := Of(danced(exact), turned, Options{At: platform.Point{40, -25}, TurnDeg: 30, Flip: [3]bool{true, false, true}})
	require.NoError(t, err)
	for _, c := range r.Measures {
		assert.InDelta(t, 0, c.Holds.Bias, 0.02, c.Measure)
		assert.InDelta(t, 0, c.Holds.SD, 0.05, c.Measure)
	}
}

// If the platform's position differs between loads, the change within each load is
// compared.
func TestPlatformPutDownAnew(t *testing.T) {
	moved := changed(plate(240, 0, 0), func(s *reference.Sample) { s.OverMM += 100 * math.Floor((s.T-firstLoad)/period) })
	r, err := Of(danced(exact), moved, Options{Apart: true})
	require.NoError(t, err)
	assert.Nil(t, r.Measures[over].Holds)
	assert.Empty(t, r.Measures[over].Pairs)
	assert.InDelta(t, 0, *r.Measures[over].RMSHolds, 0.05)
	assert.NotNil(t, r.Measures[load].Holds)
	assert.Equal(t, []measure.Refusal{{Of: "limits of a hold, over_mm", Why: whyApart}, {Of: "limits of a hold, medial_mm", Why: whyApart}}, r.Refused)
}

func TestCommonTimes(t *testing.T) {
	r, err := Of(danced(exact), plate(240, 7, 0), Options{Triggers: []Trigger{{Reference: 8, Recording: 1}}})
	require.NoError(t, err)
	assert.Equal(t, "trigger", r.Clock.By)
	assert.True(t, r.Clock.RateAssumed)
	assert.Nil(t, r.Clock.ResidualS)
	assert.InDelta(t, 7, r.Clock.OffsetS, 1e-12)
	assert.InDelta(t, 0.0042, r.Clock.US, 5e-4, "half a frame, and 29 s at 100 in a million")
	assert.Equal(t, []string{fmt.Sprintf(warnSeat, 0.5, 0.3, "press"), warnRate}, r.Warnings)
	r, err = Of(danced(exact), plate(240, 7, 4e-4), Options{Triggers: []Trigger{{7, 0}, {7 + 20*1.0004, 20}}})
	require.NoError(t, err)
	assert.InDelta(t, 400, r.Clock.RatePPM, 1e-3)
	assert.Len(t, r.Warnings, 1)
	_, err = Of(danced(exact), plate(240, 7, 0), Options{Triggers: []Trigger{{7, 0}, {9000, 20}}})
	assert.ErrorIs(t, err, ErrClock)
}

func TestWhatTheReferenceLacks(t *testing.T) {
	full := plate(240, 0, 0)
	without := func(from, to float64) *reference.Series {
		c := *full
		c.Samples = slices.DeleteFunc(slices.Clone(full.Samples), func(s reference.Sample) bool { return s.T > from && s.T < to })
		return &c
	}
	r, err := Of(danced(exact), without(8.5, 11), Options{}) // a gap in the second load
	require.NoError(t, err)
	assert.Len(t, r.Measures[load].Pairs, 4)
	assert.Contains(t, r.Warnings, fmt.Sprintf(warnHolds, 1))
	assert.Contains(t, r.Warnings[2], "the reference has nothing for ")
	r, err = Of(danced(exact), without(13, 40), Options{Triggers: []Trigger{{0, 0}}}) // it ends too early
	require.NoError(t, err)
	assert.Len(t, r.Measures[load].Pairs, 2)
	assert.Nil(t, r.Measures[load].Holds)
	assert.Contains(t, r.Refused, measure.Refusal{Of: "limits of a hold, load_n", Why: fmt.Sprintf(whyFewHolds, 2, 3)})
	r, err = Of(danced(exact), changed(full, func(s *reference.Sample) { // one load beside the plate
		if s.T > 12 && s.T < 15 {
			s.LoadN, s.OverMM, s.MedialMM = 0, math.NaN(), math.NaN()
		}
	}), Options{})
	require.NoError(t, err)
	assert.Equal(t, 1, r.Frames.Beside)
	assert.Len(t, r.Measures[load].Pairs, 4)
	r, err = Of(danced(wide), changed(full, func(s *reference.Sample) { // of another recording
		_, s.MedialMM, s.OverMM = wideAt(s)
		s.OverMM = math.Sin(40 * s.T)
	}), Options{})
	require.NoError(t, err)
	assert.Contains(t, strings.Join(r.Warnings, "\n"), "over of strip and reference do not move together (correlation ")
	assert.NotContains(t, strings.Join(r.Warnings, "\n"), "medial of strip")
	alone := changed(full, func(s *reference.Sample) { s.OverMM, s.MedialMM = math.NaN(), math.NaN() })
	alone.Place = false
	r, err = Of(danced(exact), alone, Options{})
	require.NoError(t, err)
	assert.Equal(t, []measure.Refusal{{Of: "over_mm", Why: whyNoPlace}, {Of: "medial_mm", Why: whyNoPlace}}, r.Refused)
	assert.InDelta(t, 0, r.Measures[load].Holds.Bias, 0.02)
}

func TestReferencesOfSomethingElseAreRefused(t *testing.T) {
	good := plate(240, 0, 0)
	other := danced(exact) // the right foot dances 1.7 s later, at the left one's taps
	other.Meta.Sides[device.Right] = other.Meta.Sides[device.Left]
	other.Recording.Feet.Set(device.Right, measure.FootLog{RateHz: 100})
	for _, s := range other.Traces[device.Left] {
		n, _, _ := truth(s.T - 1.7)
		other.Traces[device.Right] = append(other.Traces[device.Right], measure.Sample{T: s.T, LoadN: float32(n)})
	}
	late := changed(good, func(s *reference.Sample) { s.LoadN, _, _ = truth(s.T - 1.7) })
	byTime := Options{Triggers: []Trigger{{0, 0}}}
	for name, c := range map[string]struct {
		result *measure.Result
		ref    *reference.Series
		o      Options
		is     error
		want   string
	}{
		"no overlap":     {danced(exact), plate(240, 500, 0), byTime, ErrOther, "lasts from 0.0 to 30.0 s on the reference's clock, the reference has 500.0 to 530.0 s"},
		"kilograms":      {danced(exact), changed(good, func(s *reference.Sample) { s.LoadN /= 9.80665 }), Options{}, ErrOther, "its load is 0.102 times the strip's: name its column fz_kgf"},
		"kilonewtons":    {danced(exact), changed(good, func(s *reference.Sample) { s.LoadN /= 1000 }), Options{}, ErrOther, "name its column fz_kn"},
		"newtons":        {danced(exact), changed(good, func(s *reference.Sample) { s.LoadN *= 1000 }), Options{}, ErrOther, "name its column fz_n"},
		"metres":         {danced(exact), changed(good, func(s *reference.Sample) { s.OverMM /= 1000; s.MedialMM /= 1000 }), Options{}, ErrOther, "its over changes by 0.001 of what the strip's does: name its column over_m"},
		"centimetres":    {danced(exact), changed(good, func(s *reference.Sample) { s.OverMM /= 10 }), Options{}, ErrOther, "name its column over_cm"},
		"millimetres":    {danced(exact), changed(good, func(s *reference.Sample) { s.OverMM *= 1000 }), Options{}, ErrOther, "name its column over_mm"},
		"downwards":      {danced(exact), changed(good, func(s *reference.Sample) { s.LoadN *= -1 }), byTime, ErrOther, "--flip load turns it round"},
		"turned":         {danced(exact), changed(good, func(s *reference.Sample) { s.MedialMM *= -1 }), Options{}, ErrOther, "--flip medial turns it round"},
		"one place":      {danced(exact), changed(good, func(s *reference.Sample) { s.OverMM = 40 }), Options{At: platform.Point{0, -39}}, ErrOther, "its over stays at 1.0 mm while the strip's varies by 1."},
		"exchanged":      {danced(wide), changed(good, func(s *reference.Sample) { _, m, o := wideAt(s); s.MedialMM, s.OverMM = o, m }), Options{}, ErrOther, "exchange the names of the two columns"},
		"far":            {danced(exact), changed(good, func(s *reference.Sample) { s.OverMM += 400 }), Options{}, ErrOther, "its over is 4"},
		"other foot":     {other, late, byTime, ErrOther, "it fits the right foot: --foot right"},
		"something else": {danced(exact), late, byTime, ErrOther, "the loads do not rise together"},
		"constant":       {danced(exact), changed(good, func(s *reference.Sample) { s.LoadN = 3 }), byTime, ErrOther, "the loads do not rise together (correlation 0.00)"},
		"no foot":        {danced(exact), good, Options{Foot: device.Right}, ErrOther, "the recording has no right foot"},
		"no taps":        {danced(exact), changed(good, untapped(0)), Options{}, ErrClock, "the strip saw 6 and the reference 0"},
		"one tap":        {danced(exact), changed(good, untapped(1)), Options{}, ErrClock, "the strip saw 6 and the reference 1"},
	} {
		_, err := Of(c.result, c.ref, c.o)
		require.ErrorIs(t, err, c.is, name)
		assert.ErrorContains(t, err, c.want, name)
	}
}

// If rows of a reference are missing, have no place or are noise, the result is an error
// or a report that can be written as JSON and counts every frame once.
func TestReportsOfPoorReferences(t *testing.T) {
	good, strip := plate(120, 5, 0), danced(exact)
	under := 0
	for _, s := range strip.Traces[device.Left] {
		if s.LoadN >= 25 && s.T > firstLoad && s.T < firstLoad+loads*period {
			under++
		}
	}
	reports := 0
	for seed := range uint64(24) {
		rnd := rand.New(rand.NewPCG(seed, 1))
		lost, blind, noise := rnd.Float64(), rnd.Float64(), []float64{0, 1, 300}[seed%3]
		ref := &reference.Series{Place: true}
		for i, s := range good.Samples {
			if i > 1 && rnd.Float64() < lost {
				continue
			}
			if rnd.Float64() < blind {
				s.MedialMM, s.OverMM = math.NaN(), math.NaN()
			}
			s.LoadN += noise * rnd.NormFloat64()
			ref.Samples = append(ref.Samples, s)
		}
		r, err := Of(strip, ref, Options{Apart: seed%2 == 0, Triggers: []Trigger{{Reference: 5}}})
		if err != nil {
			require.ErrorIs(t, err, ErrOther)
			continue
		}
		reports++
		_, err = json.Marshal(r)
		require.NoError(t, err)
		require.LessOrEqual(t, r.Frames.Compared+r.Frames.Missing, under)
		if r.Frames.Beside == 0 {
			require.Equal(t, under, r.Frames.Compared+r.Frames.Missing)
		}
	}
	assert.Greater(t, reports, 8)
}

// untapped returns a change that leaves the given number of taps.
func untapped(n int) func(*reference.Sample) {
	return func(s *reference.Sample) {
		for _, tap := range tapTimes[n:] {
			if s.T > tap-0.1 && s.T < tap+0.2 {
				s.LoadN = 0
			}
		}
	}
}

// wide moves the loads far along both axes without a common trend.
func wide(i int, n, m, o float64) (float64, float64, float64) {
	return n, m + 6*float64((i*2)%5), o + 6*float64((i*3)%5)
}

func wideAt(s *reference.Sample) (n, m, o float64) {
	n, m, o = truth(s.T)
	return wide(max(0, int(math.Floor((s.T-firstLoad)/period))), n, m, o)
}

// The same taps are matched for any offset, for any rate between quartz clocks and for
// taps missed on one side, and the time is right to a few ms.
func TestTapsAreMatched(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(4, 8).Draw(t, "taps")
		offset, rate := rapid.Float64Range(-1000, 1000).Draw(t, "offset"), rapid.Float64Range(-2e-4, 2e-4).Draw(t, "rate")
		var strip, ref []float64
		at := 0.0
		for i := range n {
			at += 0.5 + 0.37*float64(i*i%7) + rapid.Float64Range(0, 0.05).Draw(t, "pause")
			if i == n/2 {
				at += rapid.Float64Range(60, 600).Draw(t, "dance")
			}
			strip = append(strip, at)
			ref = append(ref, offset+(1+rate)*at+rapid.Float64Range(-0.003, 0.003).Draw(t, "error"))
		}
		lost := rapid.IntRange(0, n-1).Draw(t, "missed by the reference")
		ref = slices.Delete(ref, lost, lost+1)
		f, matched, err := matchTaps(strip, ref)
		require.NoError(t, err)
		require.Equal(t, n-1, matched)
		c := newClock("taps", f, 0.003, 0, at)
		for _, x := range strip {
			require.InDelta(t, offset+(1+rate)*x, c.Reference(x), 0.012)
		}
	})
}

func TestTapsThatFitInMoreThanOneWay(t *testing.T) {
	_, _, err := matchTaps([]float64{1, 2, 3}, []float64{11, 12, 13, 14})
	assert.ErrorContains(t, err, "the taps fit in more than one way: tap with unequal pauses")
	_, _, err = matchTaps([]float64{1, 2.2, 5}, []float64{11, 14, 19})
	assert.ErrorContains(t, err, "fewer than half of the strip's fit")
	many := make([]float64, 61)
	_, _, err = matchTaps(many, many)
	assert.ErrorContains(t, err, "more than 60 are vibration")
	f, n, err := matchTaps([]float64{1, 2.2}, []float64{11, 12.2})
	require.NoError(t, err)
	assert.Equal(t, 2, n)
	assert.True(t, f.assumed, "1.2 s show no rate")
}

// The clock's line is the least-squares line: of NIST's Norris data, x as the strip's
// seconds, with the slope's excess over 1 as the rate (StRD, Linear Regression).
func TestClockIsALeastSquaresLine(t *testing.T) {
	data, err := os.ReadFile("../../testdata/norris.csv")
	require.NoError(t, err)
	var x, y []float64
	for _, line := range strings.Fields(string(data))[1:] {
		var at, of float64
		_, err := fmt.Sscanf(line, "%g,%g", &of, &at)
		require.NoError(t, err)
		x, y = append(x, at), append(y, of)
	}
	require.Len(t, x, 36)
	f := fitLine(x, y)
	c := newClock("taps", f, 0, 0, 1)
	assert.InDelta(t, 2116.81802045, c.RatePPM, 1e-6)
	assert.InDelta(t, -0.262323073774029, c.OffsetS, 1e-10)
	assert.InDelta(t, 0.884796396144373, *c.ResidualS, 1e-10)
	assert.InDelta(t, 0.232818234301152, f.u(0, 0), 1e-10, "the standard deviation of the intercept")
}
