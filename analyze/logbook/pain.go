package logbook

import (
	"fmt"
	"strconv"
	"strings"

	"aplomb/device"
)

// Pain is where the dancer has pain, and how much.
type Pain struct {
	Foot  device.Foot
	Site  string // such as Achilles tendon or big toe
	Level int    // 0 to 10
}

// String returns foot, site and level, such as "left Achilles tendon 3", as ParsePains
// reads it.
func (p Pain) String() string {
	return strings.Join(strings.Fields(fmt.Sprintf("%s %s %d", p.Foot, p.Site, p.Level)), " ")
}

// FormatPains returns pains as ParsePains reads them.
func FormatPains(pains []Pain) string {
	var all []string
	for _, p := range pains {
		all = append(all, p.String())
	}
	return strings.Join(all, ", ")
}

// ParsePains parses a list of pains, separated by commas: each has a foot, an optional
// site, and a level from 0 to 10, as in "left Achilles tendon 3, right 1".
func ParsePains(typed string) (pains []Pain, err error) {
	if strings.TrimSpace(typed) == "" {
		return nil, nil
	}
	for one := range strings.SplitSeq(typed, ",") {
		words := strings.Fields(one)
		if len(words) < 2 {
			return nil, invalid("pain %.60q: foot, site and 0 to 10, such as left heel 2", one)
		}
		var p Pain
		switch {
		case strings.EqualFold(words[0], device.Left.String()):
			p.Foot = device.Left
		case strings.EqualFold(words[0], device.Right.String()):
			p.Foot = device.Right
		default:
			return nil, invalid("pain %.60q: it begins with left or right, such as left heel 2", one)
		}
		last := len(words) - 1
		if p.Level, err = strconv.Atoi(words[last]); err != nil {
			return nil, invalid("pain %.60q: it ends with how much, 0 to 10, such as left heel 2", one)
		}
		p.Site = strings.Join(words[1:last], " ")
		if err := p.check(); err != nil {
			return nil, err
		}
		pains = append(pains, p)
	}
	return pains, nil
}

// WorstPain returns the highest level, nil where there is no pain in the list.
func WorstPain(pains []Pain) *int {
	var worst *int
	for _, p := range pains {
		if worst == nil || p.Level > *worst {
			worst = &p.Level
		}
	}
	return worst
}

func (p Pain) check() error {
	switch {
	case p.Foot != device.Left && p.Foot != device.Right:
		return invalid("pain without a foot")
	case p.Level < 0 || p.Level > 10:
		return invalid("pain %d: 0 (none) to 10", p.Level)
	case strings.Contains(p.Site, ","):
		return invalid("site of pain %.40q: without a comma", p.Site)
	}
	return checkText("site of pain", p.Site)
}
