package intake

import (
	"strconv"
	"strings"

	"aplomb/cmd/internal/usage"
	"aplomb/device"
)

// Press is a pad press in a CSV file: the platform of a foot was pressed on a soft
// pad from one time to another, s by the clock of the file.
type Press struct {
	Foot     device.Foot
	From, To float64
}

// ParsePresses parses presses typed as [FOOT:]FROM-TO. Without a foot it is that of
// the only strip in m.
func ParsePresses(typed []string, m *device.Metadata) (presses []Press, err error) {
	for _, text := range typed {
		p, err := parsePress(text, m)
		if err != nil {
			return nil, err
		}
		presses = append(presses, p)
	}
	return presses, nil
}

func parsePress(typed string, m *device.Metadata) (p Press, err error) {
	foot, times, named := strings.Cut(typed, ":")
	if !named {
		times = typed
	}
	from, to, ok := strings.Cut(times, "-")
	p.From, err = strconv.ParseFloat(from, 64)
	if ok && err == nil {
		p.To, err = strconv.ParseFloat(to, 64)
	}
	if !ok || err != nil || !(p.From >= 0 && p.From < p.To) {
		return p, usage.Errorf("--press %.40q: write it as FROM-TO in seconds by the file's clock, such as 2-6.5 or left:2-6.5", typed)
	}
	switch {
	case named:
		if p.Foot, err = device.ParseFoot(foot); err != nil || p.Foot == device.NoFoot {
			return p, usage.Errorf("--press %.40q: the foot is left or right", typed)
		}
	case m.Sides[device.Left] != nil && m.Sides[device.Right] != nil:
		return p, usage.Errorf("--press %s: two strips: name the foot, such as left:%s", typed, typed)
	case m.Sides[device.Left] == nil:
		p.Foot = device.Right
	}
	if m.Sides[p.Foot] == nil {
		return p, usage.Errorf("--press %s: no --strip for the %s foot", typed, p.Foot)
	}
	return p, nil
}

// pressMarks makes an event of each press when the frames have come to its end.
type pressMarks struct {
	waiting []Press
	lastS   [2]float64 // time of the last frame of each foot by the clock of the file
}

// after returns the events of the presses that have ended with a frame.
func (m *pressMarks) after(f *device.Frame) (ended []device.Event) {
	t := float64(f.TimeUS) / 1e6
	m.lastS[f.Foot] = t
	left := m.waiting[:0]
	for _, p := range m.waiting {
		if p.Foot != f.Foot || t < p.To {
			left = append(left, p)
			continue
		}
		ended = append(ended, device.Event{
			TimeNS: f.ArrivalNS - int64(1e9*(t-p.To)), Foot: p.Foot, Kind: device.Press, LengthS: p.To - p.From,
		})
	}
	m.waiting = left
	return ended
}

// finish returns an error where a press ends after the frames.
func (m *pressMarks) finish() error {
	for _, p := range m.waiting {
		return usage.Errorf("--press %g-%g: the frames of the %s foot end at %.3f s by the file's clock", p.From, p.To, p.Foot, m.lastS[p.Foot])
	}
	return nil
}
