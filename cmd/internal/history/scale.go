package history

import (
	"slices"
	"strconv"

	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/analyze/scale"
	"aplomb/analyze/track"
	"aplomb/device"
)

// addScaleWarnings adds the warnings about the scales of the strips that the followed
// recordings were made with, where the measure depends on them.
func (o *Query) addScaleWarnings(l *logbook.Logbook, t *History) error {
	if !scale.Affects(o.Measure) {
		return nil
	}
	all, err := l.Recordings(logbook.Filter{Dancer: t.Entry.Code})
	if err != nil {
		return err
	}
	checks, err := l.StripChecks("")
	if err != nil {
		return err
	}
	var uses []scale.Use
	for i, s := range t.Series {
		var of []logbook.Recording
		for _, r := range all {
			if slices.ContainsFunc(s.Points, func(p track.Point) bool { return slices.Contains(p.Recordings, strconv.FormatInt(r.ID, 10)) }) {
				of = append(of, r)
			}
		}
		more, err := l.StripUses(of, feetOf(s.Side)...)
		if err != nil {
			return err
		}
		uses = append(uses, more...)
		if err := unjudge(l, s, of, checks, o.Measure); err != nil {
			return err
		}
		if last := &t.Series[i].Points[len(s.Points)-1]; o.Measure == measure.LoadShare {
			t.Warnings = append(t.Warnings, scale.Share(more, checks, last.Mean)...)
		}
	}
	t.Warnings = append(t.Warnings, scale.Followed(uses, checks)...)
	return nil
}

// unjudge removes the wording from the points of a series that were measured on another
// scale than the reference, according to the checks of the strips, where the measure
// depends on the scale.
func unjudge(l *logbook.Logbook, s track.Series, recordings []logbook.Recording, checks []scale.Check, m measure.Measure) error {
	from := slices.IndexFunc(s.Points, func(p track.Point) bool { return p.Reference })
	for i := range s.Points {
		p := &s.Points[i]
		if p.Wording == "" || !scale.Read(m) {
			continue
		}
		var both []logbook.Recording
		for _, r := range recordings {
			if id := strconv.FormatInt(r.ID, 10); slices.Contains(p.Recordings, id) || slices.Contains(s.Points[from].Recordings, id) {
				both = append(both, r)
			}
		}
		uses, err := l.StripUses(both, feetOf(s.Side)...)
		if err != nil {
			return err
		}
		if len(scale.Compared(uses, checks)) > 0 {
			p.Wording, p.Flags = "", append(p.Flags, track.ScaleMoved)
		}
	}
	return nil
}

// feetOf returns the feet that a series is about.
func feetOf(s track.Side) []device.Foot {
	switch s {
	case track.Left:
		return []device.Foot{device.Left}
	case track.Right:
		return []device.Foot{device.Right}
	}
	return device.Feet[:]
}
