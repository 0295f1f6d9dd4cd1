package cells

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"

	"aplomb/device/platform"
)

const (
	noisyTimes  = 5    // a noisy cell has this many times the median noise; sound cells of a strip differ by less
	leastNoise  = 0.5  // counts: below it the rounding of the converter dominates
	offsetShare = 0.25 // of the range: a larger zero is a fault
	// driftMM and driftShare are the largest changes of the zeros between two loads
	// that are no fault: half of the default standard deviation of the seat, and the
	// share of the load that may lie outside the outline.
	driftMM, driftShare = 0.5, 0.03
)

// Faults returns the faults found so far, in the order of FaultKinds and then by
// cell. It allocates, so it is not for every frame.
func (w *Monitor) Faults() (all []Fault) {
	for k := range w.cells {
		all = append(all, w.cellFaults(&w.cells[k])...)
	}
	all = append(all, w.stripFaults()...)
	slices.SortStableFunc(all, func(a, b Fault) int {
		return cmp.Or(
			cmp.Compare(slices.Index(FaultKinds[:], a.Kind), slices.Index(FaultKinds[:], b.Kind)),
			cmp.Compare(a.Cell.Row, b.Cell.Row), cmp.Compare(a.Cell.Col, b.Cell.Col))
	})
	return all
}

// cellFaults returns the faults of one cell. A dead or stuck cell has no other
// fault.
func (w *Monitor) cellFaults(s *cellState) (all []Fault) {
	add := func(f Fault) { f.Cell = s.Cell; all = append(all, f) }
	silent := s.judged > 0 && s.unansweredRun == s.judged
	switch {
	case s.stuck:
		f := w.missingLoadFault(s)
		f.Kind, f.SinceS = Stuck, s.stuckSince
		f.Text = fmt.Sprintf("reads %d, loaded or not", s.stuckAt)
		add(f)
		return all
	case s.dead:
		f := w.missingLoadFault(s)
		f.Kind, f.SinceS = Dead, s.unansweredSince
		f.Text = fmt.Sprintf("no answer in %d of %d loads, with load on all sides", s.unanswered, s.judged)
		add(f)
		return all
	case silent:
		f := w.missingLoadFault(s)
		f.Kind, f.SinceS = Silent, s.unansweredSince
		f.Text = fmt.Sprintf("no answer in %d of %d loads, with load beside it", s.unanswered, s.judged)
		add(f)
	}
	digits := s.frozenDigits(w.strip.ADCBits) &^ w.frozenInAll()
	if digits != 0 {
		f := w.offsetFault(s, float64(digits))
		f.Kind = StuckBit
		f.Text = fmt.Sprintf("binary digit %s of its counts never changes: off by up to %d counts", digitNames(digits), digits)
		add(f)
	}
	noise := w.noise(s)
	switch usual := max(leastNoise, w.median(func(s *cellState) (float64, bool) { return w.noise(s), true })); {
	case s.jumpLoads >= looseLoads:
		f := w.offsetFault(s, s.largestJump)
		f.Kind, f.SinceS, f.Share = Loose, s.jumpSince, float64(s.jumpLoads)/float64(w.loads)
		f.Text = fmt.Sprintf("jumps by %.0f counts under load", s.largestJump)
		add(f)
	case noise > noisyTimes*usual && digits == 0:
		f := w.offsetFault(s, noise)
		f.Kind = Noisy
		f.Text = fmt.Sprintf("noise of %.1f counts at rest, usual is %.1f", noise, usual)
		add(f)
	}
	if s.saturated > 0 {
		share := float64(s.saturated) / float64(w.loaded)
		add(Fault{Kind: Saturated, SinceS: s.saturatedSince, Share: share,
			Text: fmt.Sprintf("at the end of its range in %s of the frames under load", percent(share))})
	}
	if w.loads > 0 && s.zero > offsetShare*float64(w.strip.SaturatesAt) {
		add(Fault{Kind: Offset, Text: fmt.Sprintf("reads %.0f of %d counts without load", s.zero, w.strip.SaturatesAt)})
	}
	return all
}

// missingLoadFault returns a Fault with the effect of a cell that does not
// respond to load.
func (w *Monitor) missingLoadFault(s *cellState) (f Fault) {
	if s.judged > 0 {
		f.Share = float64(s.unanswered) / float64(s.judged)
	}
	if s.unanswered > 0 {
		force, cop := w.meanLoad()
		missing := w.newtons(s, s.missing/float64(s.unanswered))
		f.LoadShare = missing / (force + missing)
		f.ShiftMM = f.LoadShare * distance(s.centre, cop)
	}
	return f
}

// offsetFault returns a Fault with the effect of an error of this many counts in
// one cell.
func (w *Monitor) offsetFault(s *cellState, counts float64) (f Fault) {
	if w.loads > 0 {
		force, cop := w.meanLoad()
		f.LoadShare = w.perCount(s) * counts / force
		f.ShiftMM = f.LoadShare * distance(s.centre, cop)
	}
	return f
}

// stripFaults returns the faults of the strip as a whole.
func (w *Monitor) stripFaults() (all []Fault) {
	add := func(f Fault) { f.Cell = WholeStrip; all = append(all, f) }
	if suspects, share := w.crosstalk(); len(suspects) > 0 {
		add(Fault{Kind: Crosstalk, Share: share,
			Text: fmt.Sprintf("%d cells beside the platform, on opposite sides, read %s of the load", len(suspects), percent(share))})
	}
	if since, ok := w.neverAtRest(); ok {
		text := "it was never at rest"
		if since > 0 {
			text = fmt.Sprintf("it has not come back to rest since %.0f s", since)
		}
		add(Fault{Kind: NeverAtRest, SinceS: since, Text: text})
	} else if w.loads == 0 {
		add(Fault{Kind: NeverLoaded, Text: "it was never under load"})
	}
	if d, ok := w.ZeroDrift(); ok && (d.StepShare > driftShare || d.StepMM > driftMM) {
		add(Fault{Kind: Drifting, SinceS: d.StepAtS, LoadShare: d.StepShare, ShiftMM: d.StepMM,
			Text: fmt.Sprintf("from one rest to the next the zero moves by up to %.1f N, %.2f mm of the centre of pressure", math.Abs(d.StepN), d.StepMM)})
	}
	if digits := w.frozenInAll(); digits != 0 {
		add(Fault{Kind: Coarse, Text: fmt.Sprintf("binary digit %s of the counts never changes: they go in steps, of %d or more", digitNames(digits), digits+1)})
	}
	return all
}

// neverAtRest reports whether the zeros cannot be known, and since when, s.
func (w *Monitor) neverAtRest() (since float64, ok bool) {
	if !w.rest.known {
		return 0, false
	}
	if w.now-w.rest.last > longestLoadS {
		return w.rest.last, true
	}
	sum := 0.0
	for k := range w.cells {
		if s := &w.cells[k]; !s.stuck {
			sum += w.newtons(s, s.zero)
		}
	}
	return 0, sum > offsetsN
}

// Loads returns the number of loads judged so far.
func (w *Monitor) Loads() int { return w.loads }

// LoadedCells returns how many of the cells at least partly inside the outline
// have carried load, and how many there are. The others cannot be judged.
func (w *Monitor) LoadedCells() (loaded, of int) {
	for k := range w.cells {
		s := &w.cells[k]
		if s.inside < 1e-6 {
			continue
		}
		of++
		if w.loads > 0 && s.total/float64(w.loads) >= max(leastCounts, noiseTimes*w.noise(s)) {
			loaded++
		}
	}
	return loaded, of
}

// At returns the position of the k-th cell of the scan.
func (w *Monitor) At(k int) Cell { return w.cells[k].Cell }

// Inside returns the fraction of a cell that lies inside the outline, 0 to 1.
func (w *Monitor) Inside(c Cell) float64 { return w.cells[w.at[c.Row*w.strip.Cols+c.Col]].inside }

// Map returns the mean over all loads of the counts above zero, in scan order;
// nil without a load.
func (w *Monitor) Map() []float64 {
	if w.loads == 0 {
		return nil
	}
	m := make([]float64, len(w.cells))
	for k := range m {
		m[k] = w.cells[k].total / float64(w.loads)
	}
	return m
}

// distance returns the distance between two points, mm.
func distance(a, b platform.Point) float64 { return math.Hypot(a[0]-b[0], a[1]-b[1]) }

// percent returns a share as text.
func percent(share float64) string {
	if share < 0.01 {
		return "less than 1 %"
	}
	return fmt.Sprintf("%.0f %%", 100*share)
}

// digitNames lists the binary digits of a mask; the lowest is 0.
func digitNames(digits uint16) (names string) {
	for b := range 16 {
		if digits&(1<<b) == 0 {
			continue
		}
		if names != "" {
			names += ", "
		}
		names += strconv.Itoa(b)
	}
	return names
}
