package compare

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/analyze/scale"
	"aplomb/device"
	"aplomb/plots/words"
)

// shoe returns a shoe whose kern is a rhombus with half-diagonals of 6.67 and 4 mm.
func shoe(code string) *device.Shoe {
	return &device.Shoe{Code: code, OutlineMM: [][2]float64{{-20, -12}, {20, -12}, {20, 12}, {-20, 12}}}
}

// day describes a recording with one mounting by the over of every relevé.
type day struct {
	shoe        *device.Shoe
	mounting    string
	left, right []float64 // over, mm
	medial      float64
	seatSD      float64
	support     string
	meta        func(*device.Metadata) // changes the metadata
	dancer      string
}

var made = time.Date(2026, 3, 1, 10, 0, 0, 0, time.UTC)

func (d day) result(at int) *measure.Result {
	r := &measure.Result{}
	r.Recording.File = d.mounting + ".mcap"
	r.Recording.Dancer = d.dancer
	r.Meta = device.Metadata{Dancer: d.dancer, Started: made.Add(time.Duration(at) * time.Minute), Support: d.support}
	for _, f := range device.Feet {
		values := [2][]float64{d.left, d.right}[f]
		if values == nil {
			continue
		}
		r.Meta.Sides[f] = &device.Side{
			Shoe: d.shoe, Mounting: d.mounting + f.String(),
			Strip: &device.Strip{Name: f.String(), Foot: f, Rows: 5, Cols: 8, Mount: device.Mount{SeatSDMM: d.seatSD}},
		}
		outline := d.shoe.Outline()
		r.Platforms.Set(f, measure.Platform{Outline: outline, Kern: outline.Kern(), AreaMM2: outline.Area()})
		r.Recording.Feet.Set(f, measure.FootLog{Frames: 1000 + at})
		for n, over := range values {
			r.Releves = append(r.Releves, measure.Releve{
				N: n + 1, Foot: f, FeetUp: 2, Status: measure.Measured,
				Hold: &measure.Hold{OverMM: over, MedialMM: d.medial, Effects: []measure.Effect{seatEffect(d.seatSD)}},
			})
		}
	}
	if d.meta != nil {
		d.meta(&r.Meta)
	}
	return r
}

// seatEffect returns the effect of a seat with this standard deviation on over and medial.
func seatEffect(sd float64) measure.Effect {
	u := measure.StandardUncertainty{U: sd, DOF: 8}
	return measure.Effect{Source: "seat", Common: measure.OfMounting, Evidence: measure.EvidenceAssumed, U: map[measure.Measure]measure.StandardUncertainty{measure.Over: u, measure.Medial: u}}
}

// exactly returns mountings that differ by nothing but relevés and seats, enough of them
// to determine the mounting effect.
func exactly() (rows []mounting.Row) {
	for _, m := range []measure.Measure{measure.Over, measure.Medial, measure.ContactShare, measure.Load} {
		for i := range 300 {
			for range 2 {
				rows = append(rows, mounting.Row{Group: "A", Mounting: strconv.Itoa(i), Measure: m, Value: 1, Evidence: measure.EvidencePress})
			}
		}
	}
	return rows
}

// of compares recordings of a dancer without a mounting effect.
func of(t *testing.T, days ...day) *Comparison {
	var results []*measure.Result
	for i, d := range days {
		results = append(results, d.result(i))
	}
	c, err := Results(results, Options{Earlier: exactly()})
	require.NoError(t, err)
	_, err = json.Marshal(c)
	require.NoError(t, err)
	return c
}

func (c *Comparison) difference(t *testing.T, m measure.Measure, foot device.Foot) Difference {
	for _, d := range c.Differences {
		if d.Measure == m && d.Foot == foot {
			return d
		}
	}
	require.Fail(t, "no such difference")
	return Difference{}
}

func (c *Comparison) feet(t *testing.T, m measure.Measure, shoe string) FeetDiff {
	for _, d := range c.Feet {
		if d.Measure == m && d.Shoe == shoe {
			return d
		}
	}
	require.Fail(t, "no such difference")
	return FeetDiff{}
}

// column reads one column of a file of published data.
func column(t *testing.T, file, name string) []float64 {
	f, err := os.Open("../../testdata/" + file)
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var out []float64
	for k, head := range rows[0] {
		if head != name {
			continue
		}
		for _, row := range rows[1:] {
			v, err := strconv.ParseFloat(row[k], 64)
			require.NoError(t, err)
			out = append(out, v)
		}
	}
	require.NotEmpty(t, out)
	return out
}

// With a perfect seat, two shoes in one mounting each are Welch's two samples.
// Data: Student, Biometrika 6 (1908) 1-25. Published: t = -1.8608, p = 0.07939;
// the degrees of freedom and interval are those R prints for the same data
// (the example t.test(extra ~ group, data = sleep) of its documentation).
func TestShoesAgainstWelchOnStudentsSleepData(t *testing.T) {
	c := of(t,
		day{shoe: shoe("A"), mounting: "1", left: column(t, "sleep.csv", "drug2_h")},
		day{shoe: shoe("B"), mounting: "2", left: column(t, "sleep.csv", "drug1_h")})
	d := c.difference(t, measure.Over, device.Left)
	assert.InDelta(t, -1.58, d.Difference, 1e-9)
	assert.InDelta(t, -1.8608, d.Difference/d.U, 5e-5)
	assert.InDelta(t, 17.776, *d.DOF, 1e-3)
	assert.InDelta(t, -3.3654832, d.CI95[0], 1e-6)
	assert.InDelta(t, 0.2054832, d.CI95[1], 1e-6)
	assert.Equal(t, CouldBeChance, d.Wording)
	assert.InDelta(t, 0.07939, *d.P, 5e-6)
}

// Left against right is the paired comparison. Same data: t = -4.0621 with 9
// degrees of freedom, p = 0.002833; the interval as R prints it for t.test(paired = TRUE).
func TestFeetAgainstPairedOnStudentsSleepData(t *testing.T) {
	c := of(t, day{shoe: shoe("A"), mounting: "1", left: column(t, "sleep.csv", "drug1_h"), right: column(t, "sleep.csv", "drug2_h")})
	d := c.feet(t, measure.Over, "A")
	assert.Equal(t, 10, d.N)
	assert.InDelta(t, -4.0621, d.Difference/d.U, 5e-5)
	assert.InDelta(t, 9, *d.DOF, 1e-9)
	assert.InDelta(t, -2.4598858, d.CI95[0], 1e-6)
	assert.InDelta(t, -0.7001142, d.CI95[1], 1e-6)
	assert.Equal(t, Clear, d.Wording)
}

// Mounting contributes seat²·(1/m_A + 1/m_B) with its own degrees of freedom. With hardly
// any scatter it is the only component.
func TestMountingLimitsTheUncertainty(t *testing.T) {
	c := of(t,
		day{shoe: shoe("A"), mounting: "1", left: []float64{0, 1e-6, 0}, seatSD: 1},
		day{shoe: shoe("A"), mounting: "2", left: []float64{0, 1e-6, 0}, seatSD: 1},
		day{shoe: shoe("B"), mounting: "3", left: []float64{1, 1 + 1e-6, 1}, seatSD: 1})
	d := c.difference(t, measure.Over, device.Left)
	assert.InDelta(t, 1.2247449, d.U, 1e-6) // √(1/2 + 1)
	assert.InDelta(t, device.DefaultSeatDOF, *d.DOF, 1e-3)
	assert.Equal(t, WithinMounting, d.Wording)
	assert.Contains(t, words.Warnings(c.Warnings), "strip left: its mounting repeatability of 1.0 mm is our assumption, not measured")
}

// A strip whose load changed between the days of the recordings gets a warning with the
// remedy. A strip whose recordings are all of one day gets none.
func TestWarningOfAStripThatChanged(t *testing.T) {
	a := day{shoe: shoe("A"), mounting: "1", left: []float64{0, 0.1, 0}}.result(0)
	b := day{shoe: shoe("B"), mounting: "2", left: []float64{1, 1.1, 1}}.result(1)
	a.Meta.Started = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)
	check := func(day int, bias float64) scale.Check {
		return scale.Check{
			Strip: a.Meta.Sides[device.Left].Strip.Name, Day: time.Date(2026, 3, day, 0, 0, 0, 0, time.UTC), Pass: true, Presses: 5,
			Bias: bias, RMSLoad: math.Hypot(bias, 0.01), LimitLoad: 0.05, LimitCoPMM: 1,
		}
	}
	said := func(began time.Time) (all []measure.Warning) {
		b.Meta.Started = began
		c, err := Results([]*measure.Result{a, b}, Options{Checks: []scale.Check{check(1, 0), check(20, 0.045)}})
		require.NoError(t, err)
		for _, w := range c.Warnings {
			if w.Code == measure.CheckMoved {
				all = append(all, w)
			}
		}
		return all
	}
	moved := said(time.Date(2026, 3, 25, 12, 0, 0, 0, time.UTC))
	require.Len(t, moved, 1)
	assert.InDelta(t, 4.5, moved[0].Values.Percent, 1e-9)
	assert.Empty(t, said(a.Meta.Started.Add(time.Hour)), "of one day")
}

// Shortcomings of the strips' calibrations appear as warnings of the comparison.
func TestWarningsOfCalibrations(t *testing.T) {
	two := func(change func(one, other *device.Strip)) []string {
		a := day{shoe: shoe("A"), mounting: "1", left: []float64{0, 0.1}}.result(0)
		b := day{shoe: shoe("B"), mounting: "2", left: []float64{1, 1.1}}.result(1)
		for _, r := range []*measure.Result{a, b} {
			s := r.Meta.Sides[device.Left].Strip
			s.Calibration = device.Calibration{KPaPerCount: 1, GainSD: 0.01, Date: device.Date{Year: 2026, Month: 2, Day: 1}, MadeFor: s.Name}
			s.Calibration.Hash = s.Calibration.Sum(s)
		}
		if change != nil {
			change(a.Meta.Sides[device.Left].Strip, b.Meta.Sides[device.Left].Strip)
		}
		c, err := Results([]*measure.Result{a, b}, Options{})
		require.NoError(t, err)
		return slices.DeleteFunc(words.Warnings(c.Warnings), func(w string) bool { return !strings.Contains(w, "calibration") && !strings.Contains(w, "cells") })
	}
	assert.Empty(t, two(nil))
	assert.Equal(t, []string{"strip left: that its cells differ by 3 % is our assumption, not measured"}, two(func(one, other *device.Strip) {
		one.Calibration = device.Calibration{KPaPerCount: 1, GainSD: device.DefaultGainSD}
		other.Calibration = one.Calibration
	}))
	assert.Equal(t, []string{"strip left: its calibration is not the same in all recordings: a difference in load or contact may be the strip's: compare recordings of one calibration"},
		two(func(_, other *device.Strip) {
			other.Calibration.KPaPerCount = 1.1
			other.Calibration.Hash = other.Calibration.Sum(other)
		}))
	assert.Equal(t, []string{"strip left: its calibration of 2025-02-01 was out of date (good for 180 days): calibrate it again"},
		two(func(one, other *device.Strip) {
			for _, s := range []*device.Strip{one, other} {
				s.Calibration.Date.Year = 2025
				s.Calibration.Hash = s.Calibration.Sum(s)
			}
		}))
}

// Only declared measures are worded, for any interval.
func TestOnlyDeclaredMeasuresAreWorded(t *testing.T) {
	at := func(over, peak float64) *measure.Result {
		r := day{shoe: shoe(fmt.Sprint("S", over)), mounting: fmt.Sprint(over), left: []float64{over, over + 0.1, over - 0.1}, right: []float64{over, over + 0.1, over - 0.1}}.result(int(over))
		for i := range r.Releves {
			r.Releves[i].PeakKPa = peak + float64(i)
		}
		return r
	}
	c, err := Results([]*measure.Result{at(0, 100), at(9, 900)}, Options{})
	require.NoError(t, err)
	data, err := json.Marshal(c)
	require.NoError(t, err)
	for _, d := range c.Differences {
		declared := d.Measure.Describe().Kind == measure.Declared
		assert.Equal(t, declared, d.Wording != "", d.Measure)
		assert.Equal(t, declared, d.P != nil, d.Measure)
		assert.Equal(t, declared, d.PHolm != nil, d.Measure)
	}
	for _, d := range c.Feet {
		assert.Equal(t, d.Measure.Describe().Kind == measure.Declared, d.Wording != "", d.Measure)
	}
	assert.Equal(t, Clear, c.difference(t, measure.Over, device.Left).Wording)
	peak := c.difference(t, measure.PeakPressure, device.Left)
	assert.True(t, excludesZero(peak.CI95))
	assert.NotContains(t, string(data), `"wording":""`)
}

func TestPreference(t *testing.T) {
	behind := []float64{-7, -7.2, -6.8, -7.1}
	nearer := []float64{-5.8, -5.9, -5.7, -5.8}
	centred := []float64{0.1, -0.1, 0, 0.2}
	for name, one := range map[string]struct {
		a, b day
		want string
		why  string
	}{
		"one is over": {
			day{left: behind, right: behind}, day{left: centred, right: centred}, "B",
			"Over the box on both feet in B, behind in A.",
		},
		"one foot decides": {
			day{left: behind, right: centred}, day{left: centred, right: centred}, "B",
			"Over the box on both feet in B; in A over the box on the right foot and behind on the left.",
		},
		"both miss, one clearly nearer": {
			day{left: behind}, day{left: nearer}, "B", "On the left foot B is nearer than A.",
		},
		"feet disagree": {
			day{left: behind, right: centred}, day{left: centred, right: behind}, "", "On the left foot B is better than A, on the right foot A is better than B.",
		},
		"both are over": {
			day{left: centred}, day{left: centred}, "", "These numbers do not choose between A and B.",
		},
	} {
		t.Run(name, func(t *testing.T) {
			one.a.shoe, one.a.mounting, one.a.seatSD = shoe("A"), "1", 0.2
			one.b.shoe, one.b.mounting, one.b.seatSD = shoe("B"), "2", 0.2
			c := of(t, one.a, one.b)
			assert.Equal(t, one.want, c.Preferred)
			assert.Contains(t, c.Why, one.why)
		})
	}
}

func TestFindingsSayHowFarAndHowSure(t *testing.T) {
	c := of(t,
		day{shoe: shoe("A"), mounting: "1", left: column(t, "sleep.csv", "drug2_h")},
		day{shoe: shoe("B"), mounting: "2", left: column(t, "sleep.csv", "drug1_h")})
	require.Len(t, c.Findings, 1)
	assert.Contains(t, c.Findings[0], "In B the load sits 1.6 mm further back than in A (95 % interval −0.2 to 3.4: could be chance).")
}

// If the seat is too uncertain for a verdict, the headline states what would decide. At
// -2 mm in a kern with corners at 4 mm, a seat with a standard deviation of 1 mm leaves
// 93 % of the probability inside, and one of 1/√2 mm, from two mountings, more than 95 %.
func TestHeadlineStatesWhatWouldDecide(t *testing.T) {
	c := of(t,
		day{shoe: shoe("A"), mounting: "1", left: []float64{-2, -2.2, -1.8, -2.1}, seatSD: 1},
		day{shoe: shoe("B"), mounting: "2", left: []float64{-1.9, -2.0, -2.2, -1.7}, seatSD: 1})
	assert.Empty(t, c.Preferred)
	assert.Contains(t, c.Why, "Too close to call on the left foot in A and B: one more mounting of each would decide.")
}

func TestOneCodeSeveralShoes(t *testing.T) {
	worn := shoe("A")
	worn.HoursWorn = 12
	c := of(t,
		day{shoe: shoe("A"), mounting: "1", left: []float64{0, 0.1}},
		day{shoe: worn, mounting: "2", left: []float64{1, 1.1}})
	require.Len(t, c.Shoes, 2)
	assert.Equal(t, "A#1", c.Shoes[0].Shoe)
	assert.Equal(t, "A#2", c.Shoes[1].Shoe)
	assert.Contains(t, words.Warnings(c.Warnings), "shoe A is described in 2 ways (hours_worn): kept apart as A#1 to A#2")
}

func TestOneReleveOnly(t *testing.T) {
	c := of(t,
		day{shoe: shoe("A"), mounting: "1", left: []float64{-7}, seatSD: 1},
		day{shoe: shoe("B"), mounting: "2", left: []float64{0, 0.1}, seatSD: 1})
	d := c.difference(t, measure.Over, device.Left)
	assert.Nil(t, d.CI95)
	assert.Equal(t, CouldBeChance, d.Wording)
	assert.Contains(t, words.Warnings(c.Warnings), "A left: one relevé only: its scatter is unknown, so there is no interval")
	assert.Contains(t, words.Warnings(c.Warnings), "no relevé of the right foot was measured: left and right cannot be compared")
}

func TestRefusals(t *testing.T) {
	a := day{shoe: shoe("A"), mounting: "1", left: []float64{0}, dancer: "D1"}.result(0)
	b := day{shoe: shoe("A"), mounting: "2", left: []float64{0}, dancer: "D2"}.result(1)
	_, err := Results([]*measure.Result{a, b}, Options{})
	assert.ErrorContains(t, err, "different dancers, D1 and D2")
	_, err = Results([]*measure.Result{a}, Options{Base: "Z"})
	assert.ErrorContains(t, err, "--base Z: no such shoe in these recordings; there are A")
	_, err = Results(nil, Options{})
	assert.Error(t, err)
}

func TestOneRecordingTwiceCountsOnce(t *testing.T) {
	a := day{shoe: shoe("A"), mounting: "1", left: []float64{0, 1}}.result(0)
	c, err := Results([]*measure.Result{a, a}, Options{})
	require.NoError(t, err)
	assert.Equal(t, 2, c.Shoes[0].N)
	assert.Contains(t, words.Warnings(c.Warnings), "1.mcap is the same recording as another and counts once")
}

func TestConditionsAreKeptApart(t *testing.T) {
	c := of(t,
		day{shoe: shoe("A"), mounting: "1", left: []float64{0, 1}, support: "barre"},
		day{shoe: shoe("B"), mounting: "2", left: []float64{0, 1}, support: "none"})
	assert.Empty(t, c.Differences)
	assert.Contains(t, words.Warnings(c.Warnings), "recordings under different conditions (support) are kept apart and not compared with each other")
	assert.Contains(t, words.Warnings(c.Warnings), "left: A and B were worn under no common conditions (support) and are not compared")
}

// Relevés that differ in a condition, or have it in one case only, are not pooled, and
// the comparison names the condition. Shoes are compared if they share all conditions.
func TestEveryConditionIsKeptApart(t *testing.T) {
	left := []float64{0, 0.2, 0.1}
	for name, set := range map[string]func(*device.Metadata){
		"support":  func(m *device.Metadata) { m.Support = "hand" },
		"rise":     func(m *device.Metadata) { m.Rise = "spring" },
		"position": func(m *device.Metadata) { m.Position = "first" },
		"floor":    func(m *device.Metadata) { m.Floor = "wood" },
		"fixing":   func(m *device.Metadata) { m.Sides[device.Left].Fixing = "tape" },
		"feedback": func(m *device.Metadata) { m.Feedback = "after" },
	} {
		t.Run(name, func(t *testing.T) {
			c := of(t,
				day{shoe: shoe("A"), mounting: "1", left: left},
				day{shoe: shoe("A"), mounting: "2", left: left, meta: set},
				day{shoe: shoe("B"), mounting: "3", left: left, meta: set})
			require.Len(t, c.Shoes, 3)
			for _, s := range c.Shoes {
				assert.Equal(t, 3, s.N)
				assert.Equal(t, 1, s.Mountings)
			}
			require.NotEmpty(t, c.Differences)
			for _, d := range c.Differences {
				assert.Equal(t, 3, d.NFrom, "only those under the same conditions")
				assert.Equal(t, c.Shoes[2].Conditions, d.Conditions)
			}
			assert.Contains(t, c.Warnings, measure.Warn(measure.SeveralConditions, measure.Values{Properties: []string{name}}))
			assert.Regexp(t, `in A \(`+name+` not stated\) the load .*In A \(`+name+` \w+\) it .*In B it `, c.Findings[0])
			said, err := json.Marshal(c.Shoes[1])
			require.NoError(t, err)
			assert.Regexp(t, `"`+name+`":"\w+"`, string(said))

			alike := of(t, day{shoe: shoe("A"), mounting: "1", left: left, meta: set}, day{shoe: shoe("A"), mounting: "2", left: left, meta: set})
			require.Len(t, alike.Shoes, 1)
			assert.Equal(t, 2, alike.Shoes[0].Mountings)
		})
	}
}

// Comparisons exclude practice with live feedback.
func TestPracticeIsLeftOut(t *testing.T) {
	live := func(m *device.Metadata) { m.Feedback = device.FeedbackLive }
	practice := day{shoe: shoe("A"), mounting: "2", left: []float64{9, 9, 9}, meta: live}
	c := of(t, day{shoe: shoe("A"), mounting: "1", left: []float64{0, 1}}, practice)
	require.Len(t, c.Shoes, 1)
	assert.Equal(t, 2, c.Shoes[0].N)
	assert.Equal(t, []measure.Warning{measure.Warn(measure.PracticeLeftOut, measure.Values{File: "2.mcap"})}, c.Warnings[:1])

	_, err := Results([]*measure.Result{practice.result(0)}, Options{})
	assert.ErrorIs(t, err, ErrPractice)
	c, err = Results([]*measure.Result{practice.result(0)}, Options{Practice: true})
	require.NoError(t, err)
	assert.Equal(t, 3, c.Shoes[0].N, "the summary of one recording")
}

// The padding of a side counts as another way to wear the shoe, and is a change to it.
func TestPaddingOfTheFoot(t *testing.T) {
	padded := func(m *device.Metadata) { m.Sides[device.Left].Padding = "gel" }
	own := shoe("A")
	own.Padding = "none"
	left := []float64{0, 0.2, 0.1}
	c := of(t, day{shoe: own, mounting: "1", left: left}, day{shoe: own, mounting: "2", left: left, meta: padded})
	require.Len(t, c.Shoes, 2)
	assert.Contains(t, c.Warnings, measure.Warn(measure.ShoeDescribedTwice, measure.Values{Shoe: "A", N: 2, Properties: []string{"padding"}}))
	require.Len(t, c.Changes, 1)
	assert.Equal(t, []Property{{Name: Padding, From: "none", To: "gel"}}, c.Changes[0].Properties)

	same := *own
	same.Padding = "gel"
	c = of(t, day{shoe: &same, mounting: "1", left: left}, day{shoe: own, mounting: "2", left: left, meta: padded})
	assert.Len(t, c.Shoes, 1, "whether the shoe says it or the side")
}

// Both shoes of a pair on one foot are pooled, with a warning.
func TestBothShoesOfAPair(t *testing.T) {
	mark := func(n int) func(*device.Metadata) {
		return func(m *device.Metadata) { m.Sides[device.Left].Mark = n }
	}
	warned := func(a, b int) bool {
		c := of(t, day{shoe: shoe("A"), mounting: "1", left: []float64{0, 1}, meta: mark(a)}, day{shoe: shoe("A"), mounting: "2", left: []float64{0, 1}, meta: mark(b)})
		require.Len(t, c.Shoes, 1)
		return slices.ContainsFunc(c.Warnings, func(w measure.Warning) bool { return w.Code == measure.SeveralMarks })
	}
	assert.True(t, warned(1, 2))
	assert.True(t, warned(0, 1))
	assert.False(t, warned(2, 2))
	assert.False(t, warned(0, 0))
}

// A strip that covers only part of the platform in two mountings gives one warning, with
// the smaller part.
func TestOneWarningOfASmallStrip(t *testing.T) {
	p := &pool{}
	for _, percent := range []float64{97.6, 98.2, 97.9} {
		p.countWarning(measure.Warn(measure.StripSmall, measure.Values{Strip: "L-01", Percent: percent}).On(device.Left))
	}
	p.countWarning(measure.Warn(measure.StripSmall, measure.Values{Strip: "L-02", Percent: 90}))
	require.Len(t, p.warnings, 2)
	assert.Equal(t, 3, p.warnings[0].n)
	assert.Equal(t, 97.6, p.warnings[0].Values.Percent)
}
