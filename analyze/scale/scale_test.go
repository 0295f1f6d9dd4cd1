package scale_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/analyze/calibrate"
	"aplomb/analyze/measure"
	"aplomb/analyze/scale"
	"aplomb/device"
	"aplomb/device/platform"
)

// day returns the n-th day of 2026.
func day(n int) time.Time { return time.Date(2026, 1, n, 0, 0, 0, 0, time.UTC) }

// check returns a check of five presses whose errors scatter by sd around the bias.
func check(strip string, n int, bias, sd float64) scale.Check {
	return scale.Check{
		Strip: strip, Version: 1, Day: day(n), Pass: math.Abs(bias) < 0.05, Presses: 5, Bias: bias,
		RMSLoad: math.Sqrt(bias*bias + sd*sd*4/5), RMSCoPMM: 0.2, LimitLoad: 0.05, LimitCoPMM: 1,
	}
}

func strip(foot device.Foot) *device.Strip {
	return &device.Strip{
		Name: map[device.Foot]string{device.Left: "L-01", device.Right: "R-01"}[foot], Foot: foot, Rows: 2, Cols: 2,
		PitchMM: [2]float64{5, 5}, CellMM: [2]float64{5, 5}, ADCBits: 12, SaturatesAt: 4095, Scan: "rows", FirstCell: "back-lateral",
		Calibration: device.Calibration{KPaPerCount: 0.5, GainSD: 0.03},
	}
}

func use(foot device.Foot, days ...int) (all []scale.Use) {
	for _, n := range days {
		all = append(all, scale.Use{Foot: foot, Strip: strip(foot), Day: day(n)})
	}
	return all
}

func codes(all []measure.Warning) (codes []measure.Code) {
	for _, w := range all {
		codes = append(codes, w.Code)
	}
	return codes
}

// The bias and its uncertainty are the mean of the errors and its experimental standard
// deviation, computed here from the errors themselves.
func TestUncertaintyOfABias(t *testing.T) {
	errs := []float64{0.01, 0.03, -0.01, 0.02, 0}
	var presses []calibrate.Press
	mean := 0.0
	for _, e := range errs {
		presses = append(presses, calibrate.Press{LoadN: 100, MeasuredN: 100 * (1 + e), At: platform.Point{}, MeasuredAt: platform.Point{}})
		mean += e / 5
	}
	square := 0.0
	for _, e := range errs {
		square += (e - mean) * (e - mean)
	}
	v, err := calibrate.Verify(presses, calibrate.DefaultLimits())
	require.NoError(t, err)
	c := scale.CheckOf("L-01", &v, 0.01, time.Date(2026, 3, 14, 23, 0, 0, 0, time.FixedZone("", 3600)))
	assert.Equal(t, time.Date(2026, 3, 14, 0, 0, 0, 0, time.UTC), c.Day)
	assert.InDelta(t, mean, c.Bias, 1e-12)
	u := scale.BiasU(c)
	assert.InDelta(t, math.Sqrt(square/4/5), u[0].U, 1e-12)
	assert.Equal(t, 4.0, u[0].DOF)
	assert.InDelta(t, 0.01*1.01, u[1].U, 1e-12)

	for _, same := range [][]calibrate.Press{presses[:1], {presses[0], presses[0]}} {
		v, err = calibrate.Verify(same, calibrate.DefaultLimits())
		require.NoError(t, err)
		u = scale.BiasU(scale.CheckOf("L-01", &v, 0, day(1)))
		assert.InDelta(t, 0.05/math.Sqrt(3), u[0].U, 1e-12)
		assert.True(t, math.IsInf(u[0].DOF, 1))
		assert.Zero(t, u[1].U)
	}
}

// 5 % of the changes between two checks of an unchanged strip are called a change:
// Welch-Satterthwaite, for equal and unequal numbers of presses. The count among 4,000
// pairs for a right method lies outside 132 to 274 less than once in a million times.
func TestUnchangedStripSeldomMoves(t *testing.T) {
	for _, n := range [][2]int{{5, 5}, {5, 9}} {
		moved := 0
		random := newNormal(7)
		const pairs = 4000
		for range pairs {
			var checks [2]scale.Check
			for i, n := range n {
				sum, square := 0.0, 0.0
				for range n {
					e := 0.02 + 0.01*random()
					sum, square = sum+e, square+e*e
				}
				checks[i] = scale.Check{Presses: n, Bias: sum / float64(n), RMSLoad: math.Sqrt(square / float64(n)), LimitLoad: 0.05}
			}
			if scale.Between(checks[0], checks[1]).Moved() {
				moved++
			}
		}
		assert.Greater(t, moved, 131)
		assert.Less(t, moved, 275)
	}
}

// The shift of the load share is that of the exact quotient, up to the divisor that
// the formula leaves out.
func TestShareShiftAgainstTheQuotient(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		left, right := rapid.Float64Range(50, 900).Draw(t, "L"), rapid.Float64Range(50, 900).Draw(t, "R")
		a, b := rapid.Float64Range(-0.2, 0.2).Draw(t, "a"), rapid.Float64Range(-0.2, 0.2).Draw(t, "b")
		p := left / (left + right)
		exact := (1+a)*left/((1+a)*left+(1+b)*right) - p
		shift := scale.ShareShift(p, a, b)
		common := p*a + (1-p)*b
		assert.InDelta(t, exact, shift/(1+common), 1e-12)
		assert.LessOrEqual(t, math.Abs(shift-exact), math.Abs(exact*common)+1e-12)
		assert.InDelta(t, 0, scale.ShareShift(p, a, a), 1e-15)
	})
	assert.InDelta(t, 0.01, scale.ShareShift(0.5, 0.03, -0.01), 1e-12)
}

// Weights known to 1 % on both days hide a change of 2 %, and show one of 5 %.
func TestWeightsLimitWhatIsSeen(t *testing.T) {
	from, to, far := check("L-01", 1, 0, 0.001), check("L-01", 59, 0.02, 0.001), check("L-01", 59, 0.05, 0.001)
	assert.True(t, scale.Between(from, to).Moved())
	from.LoadU, to.LoadU, far.LoadU = 0.01, 0.01, 0.01
	assert.False(t, scale.Between(from, to).Moved())
	assert.True(t, scale.Between(from, far).Moved())
}

func TestFollowed(t *testing.T) {
	left := use(device.Left, 1, 60)
	for name, c := range map[string]struct {
		uses   []scale.Use
		checks []scale.Check
		want   []measure.Code
	}{
		"never checked":                       {left, nil, nil},
		"not changed":                         {left, []scale.Check{check("L-01", 1, 0.01, 0.01), check("L-01", 59, 0.012, 0.01)}, nil},
		"changed between the visits":          {left, []scale.Check{check("L-01", 1, 0.01, 0.01), check("L-01", 59, 0.045, 0.01)}, []measure.Code{measure.CheckMoved}},
		"another strip changed":               {left, []scale.Check{check("L-02", 1, 0.01, 0.01), check("L-02", 59, 0.045, 0.01)}, nil},
		"changed before the first":            {use(device.Left, 40, 60), []scale.Check{check("L-01", 1, 0.01, 0.01), check("L-01", 39, 0.045, 0.01)}, nil},
		"changed after the last":              {use(device.Left, 1, 20), []scale.Check{check("L-01", 1, 0.01, 0.01), check("L-01", 30, 0.012, 0.01), check("L-01", 60, 0.045, 0.01)}, nil},
		"told by a check after the last":      {use(device.Left, 1, 20), []scale.Check{check("L-01", 1, 0.01, 0.01), check("L-01", 60, 0.045, 0.01)}, []measure.Code{measure.CheckMoved}},
		"one visit":                           {use(device.Left, 20, 20), []scale.Check{check("L-01", 1, 0.01, 0.01), check("L-01", 60, 0.045, 0.01)}, nil},
		"changed and back":                    {left, []scale.Check{check("L-01", 1, 0, 0.01), check("L-01", 30, 0.045, 0.01), check("L-01", 59, 0, 0.01)}, []measure.Code{measure.CheckMoved, measure.CheckMoved}},
		"a mistake mended on the day":         {left, []scale.Check{check("L-01", 1, 0, 0.01), check("L-01", 59, 8.8, 0.01), check("L-01", 59, 0.002, 0.01)}, nil},
		"the check before the first is right": {use(device.Left, 20, 60), []scale.Check{check("L-01", 2, 0.045, 0.01), check("L-01", 20, 0.01, 0.01), check("L-01", 59, 0.012, 0.01)}, nil},
		"old":                                 {use(device.Left, 1, 1+scale.MaxAgeDays+1), []scale.Check{check("L-01", 1, 0, 0.01)}, []measure.Code{measure.CheckOld}},
		"not yet old":                         {use(device.Left, 1, 1+scale.MaxAgeDays), []scale.Check{check("L-01", 1, 0, 0.01)}, nil},
		"did not pass":                        {left, []scale.Check{check("L-01", 1, 0.06, 0.01)}, []measure.Code{measure.CheckFailed}},
	} {
		assert.Equal(t, c.want, codes(scale.Followed(c.uses, c.checks)), name)
	}

	w := scale.Followed(left, []scale.Check{check("L-01", 59, 0.045, 0.01), check("L-01", 1, 0.01, 0.01)})[0]
	assert.Equal(t, measure.ChangesAnswer, w.Class)
	assert.Equal(t, [2]string{"2026-01-01", "2026-02-28"}, [2]string{w.Values.Since, w.Values.Date})
	assert.InDelta(t, 100*(1.045/1.01-1), w.Values.Percent, 1e-9)
	// Two means of five with 1 % each: 8 degrees of freedom but for the sensitivities, t = 2.306.
	assert.InDelta(t, 2.306*math.Sqrt(2.0/5), w.Values.Interval[1]-w.Values.Percent, 0.05)
	assert.Equal(t, []measure.Code{measure.CheckMoved}, codes(scale.Compared(left, []scale.Check{check("L-01", 1, 0.01, 0.01), check("L-01", 59, 0.06, 0.01)})),
		"a comparison is told of the change alone")
}

// A calibration after the last check counts as a check with known weights.
func TestNewCalibrationIsNoOldCheck(t *testing.T) {
	uses := use(device.Left, 1, 200)
	for _, u := range uses {
		u.Strip.Calibration.Date = device.DateOf(day(150))
	}
	assert.Empty(t, scale.Followed(uses, []scale.Check{check("L-01", 1, 0, 0.01)}))
}

func TestCalibrationChangedBetweenVisits(t *testing.T) {
	uses := use(device.Left, 1, 30, 60)
	uses[1].Strip.Calibration.ZeroCounts = []float64{1, 2, 3, 4}
	uses[1].Strip.Calibration.GainSD = 0.01
	assert.Empty(t, scale.Followed(uses, nil), "a new zero is no new scale")
	uses[1].Strip.Calibration.KPaPerCount = 0.55 // and back again
	all := scale.Followed(uses, nil)
	require.Equal(t, []measure.Code{measure.CalibrationChanged}, codes(all))
	assert.InDelta(t, 10, all[0].Values.Percent, 1e-9)
	uses[1].Strip.Calibration = device.Calibration{Curve: "power", KPaAtOneCount: 0.5, Exponent: 1.1}
	assert.InDelta(t, math.Pow(4095.0/2, 0.1), scale.CalibrationRatio(uses[0].Strip, uses[1].Strip), 1e-3)
	uses[1].Strip.Rows = 3
	assert.True(t, math.IsNaN(scale.CalibrationRatio(uses[0].Strip, uses[1].Strip)))
}

func TestShare(t *testing.T) {
	uses := append(use(device.Left, 1, 60), use(device.Right, 1, 60)...)
	checks := []scale.Check{
		check("L-01", 1, 0, 0.01), check("L-01", 59, 0.04, 0.01),
		check("R-01", 1, 0, 0.01), check("R-01", 59, -0.02, 0.01),
	}
	all := scale.Share(uses, checks, 0.4)
	require.Equal(t, []measure.Code{measure.ShareShifted}, codes(all))
	v := all[0].Values
	assert.Equal(t, [2]string{"L-01", "R-01"}, [2]string{v.Strip, v.OtherStrip})
	assert.Equal(t, 2, v.N)
	assert.InDelta(t, 0.24*0.06, v.Difference, 1e-12)
	// Four means of five with 1 % each: 16 degrees of freedom, t = 2.120.
	assert.InDelta(t, 2.120*0.24*0.01*math.Sqrt(4.0/5), v.Interval[1]-v.Difference, 2e-4)

	assert.Equal(t, 1, scale.Share(uses, checks[:2], 0.4)[0].Values.N)
	assert.Empty(t, scale.Share(uses, checks[2:3], 0.4), "nothing shows a change")
	assert.Empty(t, scale.Share(uses[:2], checks, 0.4), "one foot alone has no share")
	other := use(device.Left, 60)
	other[0].Strip.Name = "L-02"
	assert.Empty(t, scale.Share(append(other, uses...), checks, 0.4), "two strips on one foot")
}

func TestAffects(t *testing.T) {
	assert.True(t, scale.Affects(measure.Load))
	assert.True(t, scale.Affects(measure.LoadShare))
	assert.False(t, scale.Affects(measure.Over))
	assert.False(t, scale.Affects(measure.HoldTime))
}

// newNormal returns a source of standard normal numbers.
func newNormal(seed uint64) func() float64 {
	return rand.New(rand.NewPCG(seed, seed)).NormFloat64
}
