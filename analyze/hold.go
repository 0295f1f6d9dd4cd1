package analyze

import (
	"fmt"
	"math"
	"slices"

	"aplomb/analyze/field"
	"aplomb/analyze/releve"
	"aplomb/analyze/stats"
	"aplomb/analyze/sway"
	"aplomb/analyze/trace"
	"aplomb/device"
	"aplomb/device/platform"
)

// hold is a pulse that settled, with what its cells bore.
type hold struct {
	pulse     releve.Pulse
	samples   []trace.Sample
	seen      []float64 // mean map as read, kPa, in scan order
	pressure  []float64 // the same without ghosts and creep, see laid and rested
	creep     float64   // the most that creep may still add to the load, a share
	haunted   bool      // ghosts could not be taken out
	noise     []float64 // its standard deviation, kPa
	drift     []float64 // what the zeros moved from that of the hold to that after the load, kPa; nil where none was found after it
	peakFrame float64   // largest single reading, kPa
	saturated bool      // a cell reached the end of its range
	frames    int       // in its maps
	beyond    int       // of them beyond the calibrated pressures, see trace.Map
}

// holds gathers what belongs to every pulse; nil for one that never settled, or
// that has no centre of pressure to speak of.
func (g *foot) holds(l *trace.Log, pulses []releve.Pulse) []*hold {
	all := make([]*hold, len(pulses))
	for i, p := range pulses {
		if p.Aborted {
			continue
		}
		zero := l.ZeroAt((p.HoldStartS + p.HoldEndS) / 2)
		m := l.Map(p.HoldStartS, p.HoldEndS, zero)
		if m.Frames == 0 {
			continue
		}
		h := &hold{
			pulse: p, samples: between(l.Samples, p.HoldStartS, p.HoldEndS),
			seen: m.KPa, noise: make([]float64, len(zero)), frames: m.Frames, beyond: m.Beyond,
		}
		if !slices.ContainsFunc(h.samples, located) {
			continue // under load before the zero was known
		}
		for k := range zero {
			perCount := g.curve.PerCount(k, g.curve.Counts(k, m.KPa[k]))
			h.noise[k] = perCount * g.noise(l, k) / math.Sqrt(float64(m.Frames))
			if g.without(k) != nil {
				continue
			}
			h.peakFrame = max(h.peakFrame, m.PeakKPa[k])
			if int(m.Peak[k]) >= g.strip.SaturatesAt {
				h.saturated = true
			}
		}
		// The map leaves out what is less than a tenth of a second at either end. A
		// sample does not say which cell it was, which may be a lost one.
		h.saturated = h.saturated || len(g.lost) == 0 && slices.ContainsFunc(h.samples, func(s trace.Sample) bool { return s.Flags&trace.Saturated != 0 })
		if after := l.ZeroAfter(p.EndS); after != nil {
			h.drift = make([]float64, len(zero))
			for k := range zero {
				h.drift[k] = g.curve.PerCount(k, g.curve.Counts(k, m.KPa[k])) * (after[k] - zero[k])
			}
		}
		h.pressure, h.haunted = g.laid(m.KPa)
		h.pressure, h.creep = g.rested(h.pressure, p)
		h.peakFrame = g.restedPeak(h.peakFrame, p)
		if load, _ := g.light(h.pressure); load < field.LoadFloorN {
			continue // the pulse is just above the floor, its map just below
		}
		all[i] = h
	}
	return all
}

// noise is the standard deviation of the k-th cell, counts: no less than its
// calibration found, since a recording may hold little to tell it from.
func (g *foot) noise(l *trace.Log, k int) float64 {
	if calibrated := g.strip.Calibration.NoiseCounts; len(calibrated) > 0 {
		return max(l.Noise[k], calibrated[k])
	}
	return l.Noise[k]
}

// located says whether the sample has a centre of pressure.
func located(s trace.Sample) bool { return s.OverMM == s.OverMM } // not NaN

// measure finds the numbers of a hold; spread is what mounting, gains, noise and
// grid do to measures where this dancer stands in this recording.
func (g *foot) measure(h *hold, spread spread) (m *Measures, doubts []string) {
	var series [4][]float64
	for i := range series {
		series[i] = make([]float64, 0, len(h.samples))
	}
	t, medial, over, load := series[0], series[1], series[2], series[3]
	for _, s := range h.samples {
		load = append(load, float64(s.LoadN))
		if located(s) {
			t = append(t, s.T)
			medial = append(medial, float64(s.MedialMM))
			over = append(over, float64(s.OverMM))
		}
	}
	full := g.grid.Again(spread.at, h.pressure, h.noise)
	// The trace's centre of pressure corrects each frame only lightly. What the
	// full reconstruction of the mean map adds to that is added to the mean; to the
	// load as well, to which cells add that had to be filled, and from which ghosts
	// and creep are taken.
	lightN, light := g.light(h.seen)
	at := platform.Point{mean(medial) + full.CoP[0] - light[0], mean(over) + full.CoP[1] - light[1]}
	p := h.pulse
	m = &Measures{
		RiseS: p.HoldStartS - p.OnsetS, HoldStartS: p.HoldStartS,
		HoldS: p.HoldEndS - p.HoldStartS, LowerS: p.EndS - p.HoldEndS,
		Map: h.pressure,
	}
	g.place(m, full, at, mean(load)+full.LoadN-lightN)
	m.PeakFrameKPa = h.peakFrame
	m.PTIKPaS = m.PeakKPa * m.HoldS
	if s, ok := sway.Of(t, medial, over); ok {
		m.Sway = &s
	}

	m.Seat, m.Gain, m.Fill = spread.seat, spread.gain, spread.fill
	m.Zero, m.Grid, m.Blur = g.zeroChange(full, h), g.gridSpread(full), m.blurred(spread.lean)
	m.Hysteresis = map[string]float64{"load_n": g.strip.Calibration.Hysteresis * m.LoadN}
	m.Creep = map[string]float64{"load_n": h.creep * m.LoadN}
	m.Budget = g.budgets(m, full.Family, spread, unrest{
		platform.Point{stats.BatchMeanSE(medial), stats.BatchMeanSE(over)}, stats.BatchMeanSE(load), stats.BatchDOF(len(t)),
	})
	m.UOverMM, m.UMedialMM = m.Budget["over_mm"].U, m.Budget["medial_mm"].U
	m.UContactShare, m.ULoadN = m.Budget["contact_share"].U, m.Budget["load_n"].U
	m.Verdict, m.PInside = Judge(g.grid.Kern, platform.Point{m.MedialMM, m.OverMM}, platform.Point{m.UMedialMM, m.UOverMM})
	return m, append(g.doubts(m, h), g.lostDoubts(full)...)
}

// place fills in everything about where the load is: full is the reconstructed
// mean map, at the centre of pressure, load in N.
func (g *foot) place(m *Measures, full field.Map, at platform.Point, load float64) {
	m.LoadN = load
	m.MedialMM, m.OverMM = at[0], at[1]
	m.MedialNorm = at[0] / g.grid.Outline.Reach(platform.Point{math.Copysign(1, at[0]), 0})
	m.OverNorm = at[1] / g.grid.Outline.Reach(platform.Point{0, math.Copysign(1, at[1])})
	m.ContactMM2, m.ContactShare = full.ContactMM2, full.ContactShare
	m.Thirds = Thirds{Back: full.Back, Middle: full.Middle, Front: full.Front}
	m.EdgeMM = g.grid.Outline.EdgeDistance(at)
	m.KernRatio = 0
	if reach := g.grid.Kern.Reach(at); reach > 0 {
		m.KernRatio = math.Hypot(at[0], at[1]) / reach
	}
	m.PeakKPa, m.PeakAt = full.PeakKPa, full.PeakAt
	m.OffOutlineShare = full.OffOutlineShare
}

// What brings on a warning at a relevé.
const (
	offOutlineWarn = 0.03 // share of load on cells beside the outline
	flatShareWarn  = 0.90 // contact share below this with the dancer over the box
)

// doubts lists what makes the numbers of this hold less than they seem.
func (g *foot) doubts(m *Measures, h *hold) []string {
	doubts := []string{}
	if w := g.coverage(); w != "" {
		doubts = append(doubts, w)
	}
	if m.OffOutlineShare > offOutlineWarn {
		doubts = append(doubts, fmt.Sprintf("more than %.0f %% of the load is beside the outline: strip or outline is misplaced", 100*offOutlineWarn))
	}
	if m.PInside >= insideFrom && m.ContactShare < flatShareWarn {
		doubts = append(doubts, "platform not flat, or strip does not cover it")
	}
	if h.saturated {
		doubts = append(doubts, "cells at the end of their range: load, peak pressure and pressure-time integral are lower bounds; "+
			"over, medial, contact share and thirds are unreliable")
	}
	if h.beyond > 0 {
		doubts = append(doubts, "pressure beyond what the strip was calibrated at: load and peak pressure rest on the curve going on as it did")
	}
	if h.haunted {
		doubts = append(doubts, "ghosts could not be taken out, and are in all numbers: look at tie_ohm and one_count_ohm in the strip profile")
	}
	if h.pulse.TouchesGap {
		doubts = append(doubts, "frames are missing in it, or the recording begins or ends in it")
	}
	return doubts
}

// loadShare returns left ÷ both over the time in which both feet hold, nil
// where they never do. Each left frame is set against the right load between
// its two neighbours in time, unless frames are missing there.
func loadShare(logs [2]*trace.Log, one, other releve.Pulse) *float64 {
	left, right := logs[device.Left].Samples, logs[device.Right].Samples
	from, to := max(one.HoldStartS, other.HoldStartS), min(one.HoldEndS, other.HoldEndS)
	sum, n := 0.0, 0
	i := 0
	if len(right) > 0 {
		i, _ = slices.BinarySearchFunc(right, from, byTime)
	}
	for _, s := range between(left, from, to) {
		for i < len(right) && right[i].T < s.T {
			i++
		}
		if i == 0 || i == len(right) || right[i].Flags&trace.AfterGap != 0 {
			continue
		}
		a, b := right[i-1], right[i]
		r := float64(a.LoadN) + float64(b.LoadN-a.LoadN)*(s.T-a.T)/(b.T-a.T)
		if both := float64(s.LoadN) + r; both > 0 {
			sum += float64(s.LoadN) / both
			n++
		}
	}
	if n == 0 {
		return nil
	}
	share := sum / float64(n)
	return &share
}

// between returns the samples from one time to another, s.
func between(samples []trace.Sample, from, to float64) []trace.Sample {
	i, _ := slices.BinarySearchFunc(samples, from, byTime)
	j, _ := slices.BinarySearchFunc(samples, math.Nextafter(to, math.Inf(1)), byTime)
	return samples[i:max(i, j)]
}

func byTime(s trace.Sample, t float64) int {
	switch {
	case s.T < t:
		return -1
	case s.T > t:
		return 1
	}
	return 0
}

// light is the load and the centre of pressure that the per-frame weights give a map.
func (g *foot) light(p []float64) (load float64, at platform.Point) {
	for k, w := range g.weights {
		load += p[k] * w.LoadN
		at[0] += p[k] * w.MedialNMM
		at[1] += p[k] * w.OverNMM
	}
	return load, platform.Point{at[0] / load, at[1] / load}
}

func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}
