package report

import (
	"math"
	"slices"
	"strings"
	"time"

	"aplomb/analyze/measure"
	"aplomb/analyze/track"
	"aplomb/analyze/verdict"
	"aplomb/plots/words"
)

// progressSeries is the data of a progress sheet with the series that the sheet shows.
type progressSeries struct {
	ProgressData
	measures []sheetMeasure // in the order of ProgressMeasures
	feet     []footPlace    // left before right, those with a value of over
}

// sheetMeasure is one measure with the sides that the sheet shows.
type sheetMeasure struct {
	words.Display
	sides []sheetSide
}

// sheetSide is a side with the series that the sheet shows, by the first of their visits.
type sheetSide struct {
	side  track.Side
	shown []shownSeries
}

// shownSeries is a series with the points of it that the sheet shows: those of visits that
// no other series of the side shows.
type shownSeries struct {
	track.Series
	points []track.Point
}

// footPlace is where the load of one foot sits at its last visit with a relevé.
type footPlace struct {
	side         track.Side
	over, medial sheetSide
	now          shownSeries // of over, the series of the last visit
	at           track.Point // the last visit
	kern         *[2]float64 // extent of the kern along over, mm; nil where it is not known
	beside       *[2]float64 // along medial
	medialMM     float64
	verdict      measure.Verdict // empty where it is not known
	misses       []measure.Direction
	inside       float64
}

func newProgressSeries(d ProgressData) *progressSeries {
	s := &progressSeries{ProgressData: d}
	for _, m := range ProgressMeasures {
		i := slices.IndexFunc(d.FollowUps, func(f *track.FollowUp) bool { return f.Measure == m })
		if i < 0 {
			continue
		}
		shown := sheetMeasure{Display: words.DisplayOf(m)}
		for _, side := range sidesOf(m) {
			if one := shownOf(side, d.FollowUps[i].Series); len(one.shown) > 0 {
				shown.sides = append(shown.sides, one)
			}
		}
		if len(shown.sides) > 0 {
			s.measures = append(s.measures, shown)
		}
	}
	for _, side := range []track.Side{track.Left, track.Right} {
		if over, ok := s.side(measure.Over, side); ok {
			medial, _ := s.side(measure.Medial, side)
			s.feet = append(s.feet, newFootPlace(over, medial))
		}
	}
	if len(s.feet) == 0 {
		s.measures = nil // without over there is no place
	}
	return s
}

// sidesOf returns the sides that the sheet shows of a measure. It shows the difference
// between the feet for over only.
func sidesOf(m measure.Measure) []track.Side {
	switch m {
	case measure.Over:
		return []track.Side{track.Left, track.Right, track.Between}
	case measure.LoadShare:
		return []track.Side{track.Both}
	}
	return []track.Side{track.Left, track.Right}
}

// shownOf returns the series of a side on the sheet: the one with the most visits, then
// the one with the most of the remaining visits, until every visit is in one.
func shownOf(side track.Side, all []track.Series) sheetSide {
	out := sheetSide{side: side}
	taken := map[string]bool{}
	for {
		var best shownSeries
		for _, one := range all {
			if one.Side != side {
				continue
			}
			var points []track.Point
			for _, p := range one.Points {
				if !taken[p.Visit] {
					points = append(points, p)
				}
			}
			if len(points) > len(best.points) || len(points) > 0 && len(points) == len(best.points) && last(points).At.After(last(best.points).At) {
				best = shownSeries{one, points}
			}
		}
		if best.points == nil {
			break
		}
		for _, p := range best.points {
			taken[p.Visit] = true
		}
		out.shown = append(out.shown, best)
	}
	slices.SortStableFunc(out.shown, func(a, b shownSeries) int { return a.points[0].At.Compare(b.points[0].At) })
	return out
}

func last(points []track.Point) track.Point { return points[len(points)-1] }

// side returns a side of a measure.
func (s *progressSeries) side(m measure.Measure, side track.Side) (sheetSide, bool) {
	for _, one := range s.measures {
		for _, of := range one.sides {
			if one.Measure == m && of.side == side {
				return of, true
			}
		}
	}
	return sheetSide{}, false
}

// last returns the last visit of a side and the series that it belongs to.
func (s sheetSide) last() (of shownSeries, at track.Point) {
	for _, one := range s.shown {
		if p := last(one.points); of.points == nil || p.At.After(at.At) {
			of, at = one, p
		}
	}
	return of, at
}

// in returns the point of a visit.
func (s sheetSide) in(visit string) (of shownSeries, at track.Point, ok bool) {
	for _, one := range s.shown {
		for _, p := range one.points {
			if p.Visit == visit {
				return one, p, true
			}
		}
	}
	return of, at, false
}

// reference returns the visit from which the changes of a series are counted.
func (s shownSeries) reference() track.Point {
	return s.Points[max(0, slices.IndexFunc(s.Points, func(p track.Point) bool { return p.Reference }))]
}

func newFootPlace(over, medial sheetSide) footPlace {
	f := footPlace{side: over.side, over: over, medial: medial}
	f.now, f.at = over.last()
	if len(f.now.Kern) > 0 {
		lo, hi := f.now.Kern.Bounds()
		f.kern, f.beside = &[2]float64{lo[1], hi[1]}, &[2]float64{lo[0], hi[0]}
	}
	if _, sideways, ok := medial.in(f.at.Visit); ok {
		f.medialMM = sideways.Mean
		f.verdict, f.inside, f.misses = track.Judge(f.now.Kern, f.at, sideways)
	}
	return f
}

// placeText returns where the load sits, as the rest of a sentence that begins with "the load
// sits".
func (f footPlace) placeText() string {
	if f.verdict == "" {
		return say("progress place", words.DisplayOf(measure.Over).Difference(f.at.Mean, nil))
	}
	beyond := map[measure.Direction]struct {
		key string
		mm  func() float64
	}{
		measure.Behind:        {"progress behind", func() float64 { return f.kern[0] - f.at.Mean }},
		measure.InFront:       {"progress in front", func() float64 { return f.at.Mean - f.kern[1] }},
		measure.LittleToeSide: {"progress little toe", func() float64 { return f.beside[0] - f.medialMM }},
		measure.BigToeSide:    {"progress big toe", func() float64 { return f.medialMM - f.beside[1] }},
	}
	var parts []string
	for _, d := range f.misses {
		parts = append(parts, say(beyond[d].key, words.Number(beyond[d].mm(), 1)))
	}
	switch {
	case f.verdict == measure.TooCloseToCall:
		return say("progress at edge")
	case parts == nil:
		return strings.TrimPrefix(verdict.Sits(f.verdict, f.misses, f.medialMM), "sits ")
	}
	return strings.Join(parts, say("progress and"))
}

// when returns the day of the last visit of a foot where that of another foot, or a visit
// without relevés, is later; "" otherwise.
func (f footPlace) when(s *progressSeries) string {
	for _, other := range s.feet {
		if other.at.Visit != f.at.Visit && other.at.At.After(f.at.At) {
			return date(f.at.At)
		}
	}
	return ""
}

// placeNumbers returns the position in numbers: with its interval, and the probability of
// being over the box.
func (f footPlace) placeNumbers(foot string) string {
	over := words.DisplayOf(measure.Over)
	parts := []string{say("progress over", f.plusMinus(over, f.at))}
	if _, sideways, ok := f.medial.in(f.at.Visit); ok {
		parts = append(parts, say("progress medial", f.plusMinus(over, sideways)))
	}
	likely := ""
	if f.verdict != "" {
		likely = say("progress probability", likelihood(f.inside))
	}
	return say("progress sure", firstUpper(foot), joined(parts...), likely)
}

// likelihood formats a probability for use before the word likely.
func likelihood(p float64) string {
	switch {
	case p > 0.99:
		return say("progress almost")
	case p < 0.01:
		return say("progress hardly")
	}
	return say("percent", words.Number(100*p, 0))
}

func (f footPlace) plusMinus(d words.Display, p track.Point) string {
	if p.OfMean == nil {
		return d.Value(p.Mean)
	}
	return d.PlusMinus(p.Mean, &p.OfMean.CI95)
}

// kerns returns the extent of the kern, for each foot where the feet differ.
func (s *progressSeries) kerns() (texts []string) {
	of := func(f footPlace, foot string) string {
		return say("progress kern from", words.DisplayOf(measure.Over).Interval(*f.kern), foot)
	}
	for _, f := range s.feet {
		if f.kern != nil {
			texts = append(texts, of(f, say("progress kern of", s.footNamed(f.side))))
		}
	}
	if len(texts) > 0 && len(texts) == len(s.feet) {
		first := of(s.feet[0], "")
		if len(s.feet) == 1 || first == of(s.feet[1], "") {
			return []string{first}
		}
	}
	return texts
}

// lastMeasured returns the time of the last visit with a relevé.
func (s *progressSeries) lastMeasured() (last time.Time) {
	for _, f := range s.feet {
		if f.at.At.After(last) {
			last = f.at.At
		}
	}
	return last
}

// measuredIn reports whether a relevé was measured in a visit.
func (s *progressSeries) measuredIn(v Visit) bool {
	return slices.ContainsFunc(s.feet, func(f footPlace) bool { _, _, ok := f.over.in(v.Name); return ok })
}

// timeOf returns the time of a visit: that of its first recording, or else noon of its
// day.
func (s *progressSeries) timeOf(v Visit) time.Time {
	for _, f := range s.feet {
		if _, p, ok := f.over.in(v.Name); ok {
			return p.At
		}
	}
	return v.Day.Truncate(24 * time.Hour).Add(12 * time.Hour)
}

// footNamed returns the name of a foot with its noun: left foot.
func (s *progressSeries) footNamed(side track.Side) string {
	return say("progress panel", sideName(side))
}

// footWatched is footNamed, marked where the foot is the one being watched and the other is
// shown too.
func (s *progressSeries) footWatched(side track.Side) string {
	if string(side) == s.Watched && len(s.feet) > 1 {
		return say("progress watched mark", s.footNamed(side))
	}
	return s.footNamed(side)
}

func sideName(s track.Side) string {
	return say(map[track.Side]string{
		track.Left: "progress side left", track.Right: "progress side right",
		track.Between: "progress side between", track.Both: "progress side both",
	}[s])
}

// bothFeet returns the load of all feet measured in a visit as a share of the body
// weight, "" where the mass is not known.
func (s *progressSeries) bothFeet(v Visit) string {
	var on []track.Side
	sum := 0.0
	for _, side := range []track.Side{track.Left, track.Right} {
		of, _ := s.side(measure.Load, side)
		if _, p, ok := of.in(v.Name); ok && v.MassKG > 0 {
			on, sum = append(on, side), sum+track.BodyWeight(p.Mean, v.MassKG)
		}
	}
	share, mass := say("percent", words.Number(100*sum, 0)), say("kg", strings.TrimSuffix(words.Number(v.MassKG, 1), ".0"))
	switch len(on) {
	case 0:
		return ""
	case 1:
		return say("progress body weight foot", share, mass, sideName(on[0]))
	}
	return say("progress body weight", share, mass)
}

// bodyWeight returns the load of each foot in a visit as a share of the body weight, "" where
// it is not known.
func (s *progressSeries) bodyWeight(v Visit) string {
	var shares []string
	for _, side := range []track.Side{track.Left, track.Right} {
		of, _ := s.side(measure.Load, side)
		if _, p, ok := of.in(v.Name); ok && v.MassKG > 0 {
			shares = append(shares, say("progress weight", sideName(side), words.Number(100*track.BodyWeight(p.Mean, v.MassKG), 0)))
		}
	}
	return joined(shares...)
}

// half returns the half-width of an interval.
func half(ci [2]float64) float64 { return math.Abs(ci[1]-ci[0]) / 2 }
