package intake

import (
	"strconv"
	"strings"

	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
)

// mark sets the marks of the physical shoes: one a recorded foot, the left one first.
func (s *Setup) mark(m *device.Metadata) error {
	if s.Marks == "" {
		return nil
	}
	marks := strings.Split(s.Marks, ",")
	var feet []device.Foot
	for _, f := range device.Feet {
		if m.Sides[f] != nil {
			feet = append(feet, f)
		}
	}
	if len(marks) != len(feet) {
		if len(feet) == 1 {
			return usage.Errorf("--marks %s: one foot is recorded, so one mark: 1 or 2", text.Quoted(s.Marks))
		}
		return usage.Errorf("--marks %s: the mark in the left shoe, then that in the right one: 1,2 or 2,1", text.Quoted(s.Marks))
	}
	for i, typed := range marks {
		mark, err := strconv.Atoi(strings.TrimSpace(typed))
		if err != nil || mark < 1 || mark > 2 {
			return usage.Errorf("--marks %s: the shoes of a pair are marked 1 and 2", text.Quoted(s.Marks))
		}
		m.Sides[feet[i]].Mark = mark
	}
	return checkMarks(m)
}

// checkMarks returns a usage error where both feet wear one physical shoe.
func checkMarks(m *device.Metadata) error {
	l, r := m.Sides[device.Left], m.Sides[device.Right]
	if l != nil && r != nil && l.Mark != 0 && l.Mark == r.Mark && l.Shoe.Code == r.Shoe.Code {
		return usage.Errorf("--marks: both feet in shoe %s with mark %d: the shoes of a pair are marked 1 and 2", l.Shoe.Code, l.Mark)
	}
	return nil
}

// pad sets the padding of the feet, typed as WHAT for every recorded foot or as
// FOOT:WHAT.
func (s *Setup) pad(m *device.Metadata) error {
	for _, typed := range s.Padding {
		foot, what, named := strings.Cut(typed, ":")
		if !named {
			what = typed
		}
		if what = strings.TrimSpace(what); what == "" || strings.ContainsFunc(what, device.IsControl) {
			return usage.Errorf("--padding %.40q: write it as WHAT or FOOT:WHAT without line ends, such as gel, left:wool or none", typed)
		}
		if err := device.CheckLength(what); err != nil {
			return usage.Errorf("--padding %.40q: %w", typed, err)
		}
		var only device.Foot
		if named {
			var err error
			if only, err = device.ParseFoot(foot); err != nil || only == device.NoFoot {
				return usage.Errorf("--padding %.40q: the foot is left or right", typed)
			}
			if m.Sides[only] == nil {
				return usage.Errorf("--padding %s: no --strip for the %s foot", text.Quoted(typed), only)
			}
		}
		for _, f := range device.Feet {
			side := m.Sides[f]
			if side == nil || named && f != only {
				continue
			}
			if side.Padding != "" {
				return usage.Errorf("--padding %s: the %s foot has %s already", text.Quoted(typed), f, side.Padding)
			}
			side.Padding = what
		}
	}
	return nil
}
