// Package agreement compares the measurements of a strip with those of a reference
// instrument, such as a force plate, under the same foot at the same time: it
// synchronises the clocks, pairs frames and holds, and computes their agreement. It uses
// no database.
package agreement

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"
	"time"

	"gonum.org/v1/gonum/stat"

	"aplomb/analyze/field"
	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/device/reference"
)

// Errors of Of; the text of each error gives the details.
var (
	ErrClock = errors.New("the clocks cannot be brought together")
	ErrOther = errors.New("the reference does not measure what the strip does")
)

// Options of Of.
type Options struct {
	Foot device.Foot
	// At, TurnDeg and Flip relate the axes of the reference to those of the platform: the
	// reference's origin lies at At, mm, and it is turned by TurnDeg from +medial towards
	// +over. An axis in Flip, and the load, have the opposite sign; Flip is applied
	// before the turn.
	At      platform.Point
	TurnDeg float64
	Flip    [3]bool // medial, over, load
	// Apart reports that the platform was put down again for each load, so that its
	// position on the reference is not known: only changes of position within a load are
	// compared.
	Apart bool
	// Triggers are common times. Without any, taps are detected.
	Triggers []Trigger
}

// Trigger is one moment by both clocks, s.
type Trigger struct{ Reference, Recording float64 }

// Report is the agreement of a strip with a reference. Differences are strip less
// reference, in the unit of the measure.
type Report struct {
	Strip     string            `json:"strip"`
	Foot      device.Foot       `json:"foot"`
	Day       string            `json:"day"` // of the recording, in the local time zone
	Evidence  measure.Evidence  `json:"evidence"`
	Simulated bool              `json:"simulated"`
	Reference Reference         `json:"reference"`
	Clock     Clock             `json:"clock"`
	Apart     bool              `json:"apart"`
	Frames    Frames            `json:"frames"`
	Measures  []Compared        `json:"measures"` // over, medial, load
	Refused   []measure.Refusal `json:"refused"`  // results that cannot be given, and why
	Warnings  []string          `json:"warnings"`

	Provenance *measure.Provenance `json:"provenance,omitempty"` // of the recording
}

// Holds returns the number of holds from which the limits of agreement are computed.
func (rep *Report) Holds() (n int) {
	for _, c := range rep.Measures {
		if c.Holds != nil {
			n = max(n, c.Holds.N)
		}
	}
	return n
}

// Reference is the file of a reference instrument.
type Reference struct {
	File       string  `json:"file"`
	SHA256     string  `json:"sha256"`
	Instrument string  `json:"instrument,omitempty"` // as entered by the user
	Rows       int     `json:"rows"`
	LeftOut    int     `json:"left_out"` // rows without a load
	RateHz     float64 `json:"rate_hz"`
}

// Frames counts the strip's frames under load.
type Frames struct {
	Compared int `json:"compared"`
	Motion   int `json:"motion"`  // of them outside holds
	Missing  int `json:"missing"` // without a sample of the reference
	Loads    int `json:"loads"`   // intervals under load that are compared
	Beside   int `json:"beside"`  // intervals under load without a load on the reference
}

// Compared is the agreement in one measure.
type Compared struct {
	Measure measure.Measure `json:"measure"`
	Pairs   []Pair          `json:"pairs"`           // one a hold
	Holds   *Limits         `json:"holds,omitempty"` // the hold is the unit
	Slope   *Slope          `json:"slope,omitempty"` // over the holds
	Frame   *Limits         `json:"frame,omitempty"` // of one frame; frames of one load belong together
	// Inside is the number of holds whose difference lies within the 95 % interval stated
	// by the strip.
	Inside      int      `json:"inside"`
	RMSHolds    *float64 `json:"rms_holds,omitempty"`    // root mean square difference of the frames in holds
	RMSMotion   *float64 `json:"rms_motion,omitempty"`   // of the others
	ClockMotion *float64 `json:"clock_motion,omitempty"` // the part of RMSMotion due to the uncertainty of the clocks alone
	Bins        []Bin    `json:"bins,omitempty"`         // by the reference's value
}

// Pair is one hold.
type Pair struct {
	N          int     `json:"n"` // of the relevé
	Strip      float64 `json:"strip"`
	Reference  float64 `json:"reference"`
	Difference float64 `json:"difference"`
}

// Limits is bias and limits of agreement with their 95 % intervals.
type Limits struct {
	N      int        `json:"n"`
	Bias   float64    `json:"bias"`
	BiasCI [2]float64 `json:"bias_ci95"`
	SD     float64    `json:"sd"` // of the differences
	Lower  float64    `json:"lower"`
	LowCI  [2]float64 `json:"lower_ci95"`
	Upper  float64    `json:"upper"`
	UpCI   [2]float64 `json:"upper_ci95"`
}

// Slope is the change of the difference with the mean of both instruments, per unit of
// the measure (Bland & Altman, Statistical Methods in Medical Research 8 (1999) 135-160).
type Slope struct {
	Value float64    `json:"value"`
	CI95  [2]float64 `json:"ci95"`
	DOF   float64    `json:"dof"`
}

// Bin is a part of the range of a measure according to the reference.
type Bin struct {
	From   float64 `json:"from"`
	To     float64 `json:"to"`
	Frames int     `json:"frames"`
	Bias   float64 `json:"bias"`
	RMS    float64 `json:"rms"`
}

// Limits of a comparison. They are our own choice.
const (
	leastFrames = 20  // frames under load that can be compared
	leastHolds  = 3   // holds from which there are limits and a slope
	holdShare   = 0.8 // smallest share of a hold's frames that the reference covers
	newLoadS    = 0.5 // a longer gap separates intervals under load
	bins        = 5
	average     = 4   // samples of the reference in a frame from which their mean is taken
	gapSteps    = 3.5 // intervals of the reference after which it has a gap
)

// The measures that are compared, in the order of a frame's values.
var measures = [...]measure.Measure{measure.Over, measure.Medial, measure.Load}

const (
	over = iota
	medial
	load
)

// frame is a frame of the strip with the simultaneous measurement of the reference.
type frame struct {
	t          float64
	run        int    // number of the interval under load
	hold       bool   // within a hold
	strip, ref values // NaN for what is missing
}

type values [3]float64

// Of compares a recording, analyzed with its trace, with a reference. The report contains
// neither provenance nor the name of the reference's file.
func Of(r *measure.Result, ref *reference.Series, o Options) (*Report, error) {
	samples, side := r.Traces[o.Foot], r.Meta.Sides[o.Foot]
	if side == nil || len(samples) < 2 {
		return nil, fmt.Errorf("%w: the recording has no %s foot", ErrOther, o.Foot)
	}
	rep := &Report{
		Strip: side.Strip.Name, Foot: o.Foot, Day: r.Meta.Started.Local().Format(time.DateOnly), Evidence: r.Seats.Of(o.Foot).Evidence, Simulated: ref.Simulated, Apart: o.Apart,
		Reference: Reference{Rows: len(ref.Samples), LeftOut: ref.LeftOut, RateHz: 1 / ref.IntervalS()},
		Measures:  []Compared{}, Refused: []measure.Refusal{}, Warnings: []string{},
	}
	step := 1 / r.Recording.Feet.Of(o.Foot).RateHz
	if err := rep.setClock(samples, ref, step, o); err != nil {
		return nil, err
	}
	at := reader{ref: ref, half: step / 2, step: ref.IntervalS(), axes: axesOf(o)}
	all, whole := rep.pair(r, at.begin(&rep.Clock), samples, o)
	if err := plausible(r, at, &rep.Clock, all, whole, o); err != nil {
		return nil, err
	}
	rep.compare(r, all, o)
	if ref.Place && !o.Apart {
		rep.warnUnlike(all)
	}
	rep.warn(r.Seats.Of(o.Foot))
	return rep, nil
}

// setClock synchronises the clocks.
func (rep *Report) setClock(samples []measure.Sample, ref *reference.Series, step float64, o Options) error {
	timing := math.Hypot(step, ref.IntervalS()) / math.Sqrt(12) // rectangular: JCGM 100:2008, 4.3.7
	from, to := samples[0].T, samples[len(samples)-1].T
	if len(o.Triggers) > 0 {
		var x, y []float64
		for _, t := range o.Triggers {
			x, y = append(x, t.Recording), append(y, t.Reference)
		}
		f := fitLine(x, y)
		if math.Abs(f.rate) > maxRate {
			return errRate(f.rate)
		}
		rep.Clock = newClock("trigger", f, timing, from, to)
		return nil
	}
	strip, other := signal{}, signal{}
	for _, s := range samples {
		strip.t, strip.load = append(strip.t, s.T), append(strip.load, float64(s.LoadN))
	}
	for _, s := range ref.Samples {
		v := s.LoadN
		if o.Flip[2] {
			v = -v
		}
		other.t, other.load = append(other.t, s.T), append(other.load, v)
	}
	a, b := strip.taps(), other.taps()
	f, matched, err := matchTaps(a, b)
	if err != nil {
		return err
	}
	rep.Clock = newClock("taps", f, timing, from, to)
	rep.Clock.Taps, rep.Clock.TapsStrip, rep.Clock.TapsReference = matched, len(a), len(b)
	return nil
}

// pair returns the strip's frames under load, without pad presses, with the simultaneous
// measurements of the reference, and the loads of every frame for the whole recording.
func (rep *Report) pair(r *measure.Result, at *reader, samples []measure.Sample, o Options) (all []frame, whole [2][]float64) {
	run, last := -1, math.Inf(-1)
	under := false
	holds := holdsOf(r, o.Foot)
	for _, s := range samples {
		v := at.at(s.T)
		if !math.IsNaN(v[load]) {
			whole[0], whole[1] = append(whole[0], float64(s.LoadN)), append(whole[1], v[load])
		}
		if s.LoadN < field.LoadFloorN || pressed(r, o.Foot, s.T) {
			under = false
			continue
		}
		if !under || s.T-last > newLoadS {
			run++
		}
		under, last = true, s.T
		for len(holds) > 0 && holds[0].endS() < s.T {
			holds = holds[1:]
		}
		hold := len(holds) > 0 && holds[0].HoldStartS <= s.T
		all = append(all, frame{t: s.T, run: run, hold: hold, strip: values{float64(s.OverMM), float64(s.MedialMM), float64(s.LoadN)}, ref: v})
	}
	return rep.count(all), whole
}

// count returns the frames without taps, without intervals under load that the reference
// did not measure, and without frames for which it has no sample. It counts the latter
// two.
func (rep *Report) count(all []frame) (kept []frame) {
	for from := 0; from < len(all); {
		to := from
		seen, missing := false, 0
		for ; to < len(all) && all[to].run == all[from].run; to++ {
			seen = seen || all[to].ref[load] >= field.LoadFloorN
			if math.IsNaN(all[to].ref[load]) {
				missing++
			}
		}
		switch {
		case short(all[from:to]): // a tap
		case seen:
			rep.Frames.Loads++
			rep.Frames.Missing += missing
			for _, f := range all[from:to] {
				if !math.IsNaN(f.ref[load]) {
					kept = append(kept, f)
				}
			}
		case missing == to-from:
			rep.Frames.Missing += missing
		default:
			rep.Frames.Beside++
		}
		from = to
	}
	rep.Frames.Compared = len(kept)
	for _, f := range kept {
		if !f.hold {
			rep.Frames.Motion++
		}
	}
	return kept
}

// short reports whether an interval under load is as short as a tap.
func short(run []frame) bool { return run[len(run)-1].t-run[0].t <= tapAtMostS }

func pressed(r *measure.Result, foot device.Foot, t float64) bool {
	return slices.ContainsFunc(r.Presses[foot], func(p measure.Press) bool { return p.StartS <= t && t <= p.EndS })
}

// held is a relevé with a hold.
type held struct{ *measure.Releve }

func (h held) endS() float64 { return h.HoldStartS + h.HoldS }

// holdsOf returns the relevés of a foot that have a hold, by time.
func holdsOf(r *measure.Result, foot device.Foot) (all []held) {
	for i := range r.Releves {
		if one := &r.Releves[i]; one.Foot == foot && one.Hold != nil {
			all = append(all, held{one})
		}
	}
	return all
}

// compare sets the results of every measure.
func (rep *Report) compare(r *measure.Result, all []frame, o Options) {
	for k, m := range measures {
		c := Compared{Measure: m, Pairs: []Pair{}}
		place := k != load
		used := all
		if place {
			used = slices.DeleteFunc(slices.Clone(all), func(f frame) bool {
				return math.IsNaN(f.ref[k]) || math.IsNaN(f.strip[k]) || f.ref[load] < field.LoadFloorN
			})
		}
		if len(used) < leastFrames {
			rep.refuse(m.Symbol(), whyNoPlace)
			rep.Measures = append(rep.Measures, c)
			continue
		}
		if place && o.Apart {
			used = centred(used, k)
			rep.refuse(fmt.Sprintf(ofHold, m), whyApart)
		} else {
			c.addHolds(rep, r, used, k, o.Foot)
		}
		c.addFrames(rep, used, k)
		rep.Measures = append(rep.Measures, c)
	}
}

func (rep *Report) refuse(of, why string) {
	rep.Refused = append(rep.Refused, measure.Refusal{Of: of, Why: why})
}

// centred returns frames with the reference's mean over each interval under load shifted
// to that of the strip.
func centred(all []frame, k int) []frame {
	moved := slices.Clone(all)
	for from := 0; from < len(moved); {
		to, sum := from, 0.0
		for ; to < len(moved) && moved[to].run == moved[from].run; to++ {
			sum += moved[to].strip[k] - moved[to].ref[k]
		}
		for i := from; i < to; i++ {
			moved[i].ref[k] += sum / float64(to-from)
		}
		from = to
	}
	return moved
}

// addHolds adds the results over holds, each as one number: for the strip that reported
// by the analysis, for the reference the mean over the hold, of the centre of pressure
// weighted by load.
func (c *Compared) addHolds(rep *Report, r *measure.Result, used []frame, k int, foot device.Foot) {
	var strip, ref []float64
	missing := 0
	for _, one := range holdsOf(r, foot) {
		if one.Discarded {
			continue
		}
		in := slice(used, one.HoldStartS, one.endS(), func(f frame) float64 { return f.t })
		frames := len(slice(r.Traces[foot], one.HoldStartS, one.endS(), func(s measure.Sample) float64 { return s.T }))
		sum, weight := 0.0, 0.0
		for _, f := range in {
			w := 1.0
			if k != load {
				w = f.ref[load]
			}
			sum, weight = sum+w*f.ref[k], weight+w
		}
		if len(in) == 0 || float64(len(in)) < holdShare*float64(frames) {
			missing++
			continue
		}
		v, _ := one.Value(c.Measure)
		strip, ref = append(strip, v), append(ref, sum/weight)
		p := Pair{N: one.N, Strip: v, Reference: sum / weight, Difference: v - sum/weight}
		c.Pairs = append(c.Pairs, p)
		if half := halfWidth(one.Hold, c.Measure); math.Abs(p.Difference) <= half {
			c.Inside++
		}
	}
	if k == load && missing > 0 {
		rep.Warnings = append(rep.Warnings, fmt.Sprintf(warnHolds, missing))
	}
	if len(c.Pairs) < leastHolds {
		rep.refuse(fmt.Sprintf(ofHold, c.Measure), fmt.Sprintf(whyFewHolds, len(c.Pairs), leastHolds))
		return
	}
	c.Holds = limits(stats.LimitsOfAgreement(strip, ref))
	means, differences := make([]float64, len(strip)), make([]float64, len(strip))
	for i := range strip {
		means[i], differences[i] = (strip[i]+ref[i])/2, strip[i]-ref[i]
	}
	if !(stat.StdDev(ref, nil) > c.Holds.SD) {
		rep.refuse(fmt.Sprintf(ofSlope, c.Measure), whyNoSlope)
		return
	}
	l := stats.FitLine(means, differences)
	if ci := stats.Interval95(l.Slope, l.USlope, l.DOF); !math.IsNaN(ci.Lo) {
		c.Slope = &Slope{l.Slope, ends(ci), l.DOF}
	}
}

// slice returns the part of all, which is in order of time, between two times.
func slice[T any](all []T, from, to float64, at func(T) float64) []T {
	first := sort.Search(len(all), func(i int) bool { return at(all[i]) >= from })
	last := sort.Search(len(all), func(i int) bool { return at(all[i]) > to })
	return all[first:last]
}

// halfWidth returns half of the 95 % interval stated by the strip for a measure of a
// hold.
func halfWidth(h *measure.Hold, m measure.Measure) float64 {
	u, dof := h.UOverMM, h.DOFOver
	switch m {
	case measure.Medial:
		u, dof = h.UMedialMM, h.DOFMedial
	case measure.Load:
		u, dof = h.ULoadN, h.DOFLoad
	}
	if dof == 0 {
		dof = measure.Unlimited
	}
	return stats.Interval95(0, u, float64(dof)).Hi
}

// addFrames adds the results over frames. Frames of one load are one group; they count as
// few independent observations, since neighbouring frames are correlated.
func (c *Compared) addFrames(rep *Report, used []frame, k int) {
	var groups [][]float64
	var holds, motion, rates []float64
	dof := 0.0
	for i, f := range used {
		d := f.strip[k] - f.ref[k]
		if i == 0 || f.run != used[i-1].run {
			groups = append(groups, nil)
		} else if step := f.t - used[i-1].t; !f.hold && step > 0 && step < newLoadS {
			rates = append(rates, (f.ref[k]-used[i-1].ref[k])/step)
		}
		groups[len(groups)-1] = append(groups[len(groups)-1], d)
		if f.hold {
			holds = append(holds, d)
		} else {
			motion = append(motion, d)
		}
	}
	for _, g := range groups {
		dof += stats.BatchDOF(len(g))
	}
	if a := stats.LimitsOfRepeated(groups, dof); !math.IsNaN(a.SD) && !math.IsNaN(a.Lower95.Lo) {
		c.Frame = limits(a)
	} else {
		rep.refuse(fmt.Sprintf(ofFrame, c.Measure), whyOneLoad)
	}
	c.RMSHolds, c.RMSMotion = rms(holds), rms(motion)
	if r := rms(rates); r != nil {
		clock := *r * rep.Clock.US
		c.ClockMotion = &clock
	}
	c.Bins = binned(used, k)
}

// binned returns differences by the reference's value, in bins of equal width that
// contain frames.
func binned(used []frame, k int) (all []Bin) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, f := range used {
		lo, hi = min(lo, f.ref[k]), max(hi, f.ref[k])
	}
	if !(hi > lo) {
		return nil
	}
	var in [bins][]float64
	for _, f := range used {
		i := min(bins-1, int(bins*(f.ref[k]-lo)/(hi-lo)))
		in[i] = append(in[i], f.strip[k]-f.ref[k])
	}
	for i, d := range in {
		if len(d) > 0 {
			width := (hi - lo) / bins
			all = append(all, Bin{From: lo + float64(i)*width, To: lo + float64(i+1)*width, Frames: len(d), Bias: stat.Mean(d, nil), RMS: *rms(d)})
		}
	}
	return all
}

// rms returns a root mean square, nil for no values.
func rms(v []float64) *float64 {
	if len(v) == 0 {
		return nil
	}
	sum := 0.0
	for _, x := range v {
		sum += x * x
	}
	sum = math.Sqrt(sum / float64(len(v)))
	return &sum
}

func limits(a stats.Agreement) *Limits {
	return &Limits{a.N, a.Bias, ends(a.Bias95), a.SD, a.Limits.Lo, ends(a.Lower95), a.Limits.Hi, ends(a.Upper95)}
}

func ends(i stats.Interval) [2]float64 { return [2]float64{i.Lo, i.Hi} }
