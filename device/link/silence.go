package link

import (
	"fmt"
	"time"

	"aplomb/device/wire"
)

// watch is called at each tick. It gives up waiting for a hello, and on a foot
// that sends nothing of use. Silence is measured in ticks that Next has seen,
// not by the clock, so that a caller who comes back late does not find the
// strip silent.
func (l *Link) watch() error {
	l.trust(l.wait)
	for _, p := range l.ports {
		p.quiet++
	}
	for _, s := range l.sides {
		if s == nil {
			continue
		}
		if s.quiet++; s.quiet > l.maxQuiet {
			return l.silent(s)
		}
	}
	return nil
}

// silent says why there are no frames from s.
func (l *Link) silent(s *side) error {
	p := s.port
	line := p.decoder.Stats()
	long := seconds(l.silence)
	unfit := line.Bad[wire.WrongLength] + line.Bad[wire.OutOfRange]
	switch {
	case p.quiet > l.maxQuiet:
		return fmt.Errorf("port %s: no data for %s: is the strip switched on, and is this its port (see aplomb ports)?", p.name, long)
	case line.Frames > 0 || s.stats.Refused > 0:
		return fmt.Errorf("port %s: data, but no frame of the %s foot for %s: is that strip switched on, and does its clock run?", p.name, s.foot, long)
	case unfit > 0 && unfit >= line.Bad[wire.Damaged]:
		return fmt.Errorf("port %s: no frame that fits strip %s in %s: %d with another number of cells than %d × %d, %d with counts beyond %d bits: correct the profile",
			p.name, s.strip.Name, long, line.Bad[wire.WrongLength], s.strip.Rows, s.strip.Cols, line.Bad[wire.OutOfRange], s.strip.ADCBits)
	case line.Hellos > 0:
		return fmt.Errorf("port %s: strip %s says hello but sends no frame in %s: start it again", p.name, s.strip.Name, long)
	}
	return fmt.Errorf("port %s: %d bytes in %s that are neither binary packets nor lines of numbers: check --baud (now %d), and that this is the strip's port (see aplomb ports)",
		p.name, line.Bytes, long, l.baud)
}

func seconds(d time.Duration) string { return fmt.Sprintf("%g s", d.Seconds()) }
