package recording

import (
	"context"
	"errors"
	"io"
	"slices"

	"aplomb/device"
)

// Survey describes the contents of a recording and what is missing.
type Survey struct {
	Meta       device.Metadata // with the correction
	Recorded   device.Metadata // as the file has it
	Correction *Correction     // nil where there is none
	StartNS    int64           // arrival of the first frame, ns since 1970; 0 where there is none
	Feet       [2]*FootSurvey  // by device.Foot, nil for a foot without a strip
	Events     []device.Event  // in the order of the file
	Missing    string          // what the file lacks at its end, as Reader.Missing has it; "" where it was closed
	Damaged    string          // what damage has cost, as Reader.Damaged has it; "" where nothing is damaged
	Losses     []Loss          // the parts that damage has cost
	Damage     *Damage         // why no frame can be relied on; nil where they can
}

// FootSurvey describes the contents of a recording for one foot.
type FootSurvey struct {
	Frames    int64
	Numbered  bool           // the strip numbers its frames; otherwise Lost is not known
	Lost      int64          // frames missing according to their numbers
	Gaps      []device.Event // the gaps that were noted while recording
	SpanS     float64        // from the first frame to the last by the clock of the frames, s
	RateHz    float64        // frames a second, lost ones included; 0 where there are fewer than two
	LongestS  float64        // longest time between two frames, s
	Beyond    int64          // frames with a count above the range of the converter
	Saturated int64          // frames in which a cell was at the end of its range
	Covered   float64        // share of the platform that lies under the strip, 0..1
}

// Whole reports whether the recording is complete as far as can be known.
func (s *Survey) Whole() bool {
	if s.Missing != "" || s.Damaged != "" || s.Damage != nil {
		return false
	}
	return !slices.ContainsFunc(s.Feet[:], func(f *FootSurvey) bool { return f != nil && !f.Whole() })
}

// Whole reports whether the foot's frames are complete as far as can be known.
func (f *FootSurvey) Whole() bool {
	return f.Frames > 0 && f.Lost == 0 && len(f.Gaps) == 0 && !f.Paused()
}

// Paused reports whether frames that are not numbered must be missing somewhere: two
// of them are more than three mean intervals and more than 20 ms apart.
func (f *FootSurvey) Paused() bool {
	return !f.Numbered && f.RateHz > 0 && f.LongestS > max(3/f.RateHz, 0.020)
}

// coversFrom is the smallest share of the platform under a strip for which the strip
// counts as covering it. It is our own choice.
const coversFrom = 0.99

// Partial reports whether the strip covers only part of the platform.
func (f *FootSurvey) Partial() bool { return f.Covered < coversFrom }

// At returns the time of an event, s since the first frame arrived.
func (s *Survey) At(e device.Event) float64 { return float64(e.TimeNS-s.StartNS) / 1e9 }

// Inspect reads the recording at path to its end. Damage is part of the Survey
// and no error. Errors are those of Open, and that of ctx when it is done.
func Inspect(ctx context.Context, path string) (*Survey, error) {
	r, err := Open(ctx, path)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	s := &Survey{Meta: r.Meta(), Recorded: r.Recorded(), Correction: r.Correction()}
	var counts [2]*footCounter
	for i, side := range s.Meta.Sides {
		if side != nil {
			s.Feet[i] = &FootSurvey{Covered: side.Strip.CoveredShare(side.Shoe.Outline())}
			counts[i] = &footCounter{FootSurvey: s.Feet[i], saturates: uint16(side.Strip.SaturatesAt), maxCount: uint16(side.Strip.MaxCount())}
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
			return nil, &FileError{path, err}
		}
		if s.StartNS == 0 {
			s.StartNS = f.ArrivalNS
		}
		counts[f.Foot].add(&f)
	}
	s.Missing, s.Damaged, s.Losses, s.Events = r.Missing(), r.Damaged(), r.Losses(), r.Events()
	for i, c := range counts {
		if c != nil {
			c.finish(device.Foot(i), r.Events())
		}
	}
	return s, nil
}

// footCounter fills the FootSurvey of one foot, frame by frame.
type footCounter struct {
	*FootSurvey
	saturates   uint16
	maxCount    uint16
	first, last uint64 // clock, µs
	lastSeq     int64
	longest     uint64 // µs
}

func (c *footCounter) add(f *device.Frame) {
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
	largest := slices.Max(f.Counts)
	if largest >= c.saturates {
		c.Saturated++
	}
	if largest > c.maxCount {
		c.Beyond++
	}
}

func (c *footCounter) finish(foot device.Foot, events []device.Event) {
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
