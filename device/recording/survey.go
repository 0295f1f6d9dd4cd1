package recording

import (
	"errors"
	"fmt"
	"io"
	"slices"

	"aplomb/device"
)

// Survey is what a recording holds and what it lacks.
type Survey struct {
	Meta    device.Metadata
	StartNS int64          // arrival of the first frame, ns since 1970; 0 where there is none
	Feet    [2]*FootSurvey // by device.Foot, nil for a foot without a strip
	Missing string         // what the file lacks at its end, as Reader.Missing has it; "" where it was closed
	Damage  *Damage        // where it is not as it was written; what comes after was not read
}

// FootSurvey is what a recording holds of one foot.
type FootSurvey struct {
	Frames    int64
	Numbered  bool           // the strip numbers its frames; without, Lost says nothing
	Lost      int64          // frames missing by their numbers
	Gaps      []device.Event // what was noted while recording
	SpanS     float64        // from the first frame to the last by the clock of the frames, s
	RateHz    float64        // frames a second, lost ones included; 0 where there are fewer than two
	LongestS  float64        // between two frames, s
	Saturated int64          // frames in which a cell was at the end of its range
	Covered   float64        // share of the platform that lies under the strip, 0..1
}

// Whole says whether nothing is known to be missing.
func (s *Survey) Whole() bool {
	if s.Missing != "" || s.Damage != nil {
		return false
	}
	return !slices.ContainsFunc(s.Feet[:], func(f *FootSurvey) bool { return f != nil && !f.Whole() })
}

// Whole says whether nothing is known to be missing of the foot.
func (f *FootSurvey) Whole() bool {
	return f.Frames > 0 && f.Lost == 0 && len(f.Gaps) == 0 && !f.Paused()
}

// Paused says whether frames that are not numbered come so far apart somewhere
// that some must be missing: by more than three usual distances, and 20 ms.
func (f *FootSurvey) Paused() bool {
	return !f.Numbered && f.RateHz > 0 && f.LongestS > max(3/f.RateHz, 0.020)
}

// partly is the share of the platform under a strip below which it does not cover it.
const partly = 0.99

// Partial says whether the strip leaves part of the platform out.
func (f *FootSurvey) Partial() bool { return f.Covered < partly }

// At returns when an event was, s since the first frame arrived.
func (s *Survey) At(e device.Event) float64 { return float64(e.TimeNS-s.StartNS) / 1e9 }

// Inspect reads the recording at path to its end. Damage is a finding, not an
// error; what is no recording at all is an error that names the file.
func Inspect(path string) (*Survey, error) {
	r, err := Open(path)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	s := &Survey{Meta: r.Meta()}
	var counts [2]*footCount
	for i, side := range s.Meta.Sides {
		if side != nil {
			s.Feet[i] = &FootSurvey{Covered: side.Strip.Covers(side.Shoe.Outline())}
			counts[i] = &footCount{FootSurvey: s.Feet[i], saturates: uint16(side.Strip.SaturatesAt)}
		}
	}
	ahead := device.ReadAhead(r)
	defer ahead.Close()
	var f device.Frame
	for {
		err := ahead.Next(&f)
		if errors.Is(err, io.EOF) || errors.As(err, &s.Damage) {
			break
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
		if s.StartNS == 0 {
			s.StartNS = f.ArrivalNS
		}
		counts[f.Foot].add(&f)
	}
	s.Missing = r.Missing()
	for i, c := range counts {
		if c != nil {
			c.finish(device.Foot(i), r.Events())
		}
	}
	return s, nil
}

// footCount counts the frames of one foot as they come.
type footCount struct {
	*FootSurvey
	saturates   uint16
	first, last uint64 // clock, µs
	lastSeq     int64
	longest     uint64 // µs
}

func (c *footCount) add(f *device.Frame) {
	if c.Frames == 0 {
		c.first, c.Numbered = f.TimeUS, f.Seq != device.NoSeq
	} else {
		if f.TimeUS > c.last {
			c.longest = max(c.longest, f.TimeUS-c.last)
		}
		if c.Numbered && f.Seq > c.lastSeq+1 {
			c.Lost += f.Seq - c.lastSeq - 1
		}
	}
	c.last, c.lastSeq = f.TimeUS, f.Seq
	c.Frames++
	if slices.ContainsFunc(f.Counts, func(n uint16) bool { return n >= c.saturates }) {
		c.Saturated++
	}
}

func (c *footCount) finish(foot device.Foot, events []device.Event) {
	c.LongestS = float64(c.longest) / 1e6
	if c.last > c.first {
		c.SpanS = float64(c.last-c.first) / 1e6
		c.RateHz = float64(c.Frames+c.Lost-1) / c.SpanS
	}
	for _, e := range events {
		if e.Kind == device.Gap && (e.Foot == foot || e.Foot == device.NoFoot) {
			c.Gaps = append(c.Gaps, e)
		}
	}
}
