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
	// noisyTimes is how much noisier than the median one a cell must be: cells of
	// one strip differ by less, whatever they are made of.
	noisyTimes  = 5
	leastNoise  = 0.5  // counts: below it a converter shows nothing but its own rounding
	offsetShare = 0.25 // of the range that a cell without load may take up
	// A zero that steps by more than this between two loads is a finding: half of
	// what the seat of a strip costs a place where nothing better is known, and
	// as much of the load as may lie beside the outline.
	driftMM, driftShare = 0.5, 0.03
)

// Findings returns what has been found so far, by Kinds and then by cell. It
// allocates, so ask it now and then and not with every frame.
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

// ofCell returns what is wrong with a cell. One that is dead or stuck is no
// more than that.
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

// without is what it does to the measures that a cell does not feel its load.
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

// jumping is what it does to a frame that a cell is off by so many counts.
func (w *Monitor) offsetFault(s *cellState, counts float64) (f Fault) {
	if w.loads > 0 {
		force, cop := w.meanLoad()
		f.LoadShare = w.perCount(s) * counts / force
		f.ShiftMM = f.LoadShare * distance(s.centre, cop)
	}
	return f
}

// ofStrip returns what is wrong with the strip as a whole.
func (w *Monitor) stripFaults() (all []Fault) {
	add := func(f Fault) { f.Cell = WholeStrip; all = append(all, f) }
	if haunted, share := w.crosstalk(); len(haunted) > 0 {
		add(Fault{Kind: Crosstalk, Share: share,
			Text: fmt.Sprintf("%d cells beside the platform, on opposite sides, read %s of the load", len(haunted), percent(share))})
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

// restless says that the zero cannot be known, and since when.
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

// Loads returns how many loads have been judged.
func (w *Monitor) Loads() int { return w.loads }

// Reached returns how many of the cells at least partly inside the outline have
// felt load, and how many there are: nothing is known of the rest.
func (w *Monitor) LoadedCells() (felt, of int) {
	for k := range w.cells {
		s := &w.cells[k]
		if s.inside < 1e-6 {
			continue
		}
		of++
		if w.loads > 0 && s.total/float64(w.loads) >= max(leastCounts, noiseTimes*w.noise(s)) {
			felt++
		}
	}
	return felt, of
}

// At returns the cell of the k-th count of a frame.
func (w *Monitor) At(k int) Cell { return w.cells[k].Cell }

// Inside returns the part of a cell that lies inside the outline, 0..1.
func (w *Monitor) Inside(c Cell) float64 { return w.cells[w.at[c.Row*w.strip.Cols+c.Col]].inside }

// Map returns the mean of all loads, counts above zero in the order of the
// scan; nil where there was no load.
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

func distance(a, b platform.Point) float64 { return math.Hypot(a[0]-b[0], a[1]-b[1]) }

func percent(share float64) string {
	if share < 0.01 {
		return "less than 1 %"
	}
	return fmt.Sprintf("%.0f %%", 100*share)
}

// digitNames lists binary digits, the lowest being 0.
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
