package link

import (
	"fmt"
	"slices"
	"time"

	"aplomb/device/wire"
)

// watch is called at each tick. It gives up waiting for a hello, looks for
// lines that are out, and says so, or before every foot has been heard gives
// up, where a foot sends nothing of use. Silence is measured in ticks that Next
// has seen, not by the clock, so that a caller who comes back late does not
// find the strip silent.
func (l *Link) watch() error {
	l.trust(l.wait * 9 / 10) // with what it takes to come here, within wait
	for _, n := range l.lines {
		n.quiet++
		n.age++
	}
	for _, s := range l.sides {
		if s == nil {
			continue
		}
		if s.quiet++; s.quiet <= l.maxQuiet || s.port.line == nil {
			continue
		}
		why := l.silent(s)
		if !l.begun {
			return why
		}
		if s.stats.Away == "" {
			l.tell(s, why.Error())
		}
	}
	if l.begun {
		l.tidy()
	}
	return nil
}

// tidy looks for lines that are out, and closes those that are nobody's: when
// none is out any more, or when no strip speaks there.
func (l *Link) tidy() {
	out := l.away()
	for _, n := range slices.Clone(l.lines) {
		deaf := n.strange == "" && n.age > l.maxQuiet && len(n.held) == 0
		if n.port == nil && (len(out) == 0 || deaf && n.likely == nil) {
			l.search.others = append(l.search.others, n.name)
			l.drop(n)
		}
	}
	if len(out) > 0 {
		l.search.begin(l.readers, out, l.lines)
	}
}

// silent says why there are no frames from s.
func (l *Link) silent(s *side) error {
	p := s.port
	line := p.stats()
	long := seconds(l.silence)
	unfit := line.Bad[wire.WrongLength] + line.Bad[wire.OutOfRange]
	switch {
	case p.line.quiet > l.maxQuiet:
		return fmt.Errorf("port %s: no data for %s: is the strip switched on, and is this its port (see aplomb ports)?", p.line.name, long)
	case line.Frames > 0 || s.stats.Refused > 0:
		return fmt.Errorf("port %s: data, but no frame of the %s foot for %s: is that strip switched on, and does its clock run?", p.line.name, s.foot, long)
	case line.HelloError != "" && line.Hellos == 0:
		return fmt.Errorf("port %s: the strip says who it is in a way that cannot be meant (%s): correct what its firmware sends", p.line.name, line.HelloError)
	case unfit > 0 && unfit >= line.Bad[wire.Damaged]:
		return fmt.Errorf("port %s: no frame that fits strip %s in %s: %d with another number of cells than %d × %d, %d with counts beyond %d bits: correct the profile",
			p.line.name, s.strip.Name, long, line.Bad[wire.WrongLength], s.strip.Rows, s.strip.Cols, line.Bad[wire.OutOfRange], s.strip.ADCBits)
	case line.Hellos > 0:
		return fmt.Errorf("port %s: strip %s says hello but sends no frame in %s: start it again", p.line.name, s.strip.Name, long)
	}
	return fmt.Errorf("port %s: %d bytes in %s that are neither binary packets nor lines of numbers: check --baud (now %d), and that this is the strip's port (see aplomb ports)",
		p.line.name, line.Bytes, long, l.baud)
}

func seconds(d time.Duration) string { return fmt.Sprintf("%g s", d.Seconds()) }
