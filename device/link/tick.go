package link

import (
	"slices"
)

// everyTick is called at each tick. It stops waiting for overdue hellos, searches for
// lines that are out, and reports a foot without usable data: until every foot has sent a
// frame as an error, later as a Notice. Silence is counted in ticks processed by Next and
// not by the clock, so that a caller that was delayed does not find the strip silent.
func (l *Link) everyTick() error {
	l.acceptWithoutHello(l.helloWait * 9 / 10) // Next may come here late, and helloWait is the limit
	for _, n := range l.lines {
		n.quiet++
		n.age++
	}
	for _, s := range l.feet {
		if s == nil {
			continue
		}
		if s.quiet++; s.quiet <= l.maxQuiet || s.port.line == nil {
			continue
		}
		if !l.begun {
			return l.silence(s).err()
		}
		if s.stats.Away == (Notice{}) {
			l.setAway(s, l.silence(s))
		}
	}
	if l.begun {
		l.searchAndTidy()
	}
	return nil
}

// searchAndTidy searches for lines that are out, and closes lines that belong to no port
// once none is out or once they have been silent for long.
func (l *Link) searchAndTidy() {
	out := l.portsOut()
	for _, n := range slices.Clone(l.lines) {
		silent := n.stranger == nil && n.age > l.maxQuiet && len(n.waiting) == 0
		if n.port == nil && (len(out) == 0 || silent && n.likely == nil) {
			l.search.others = append(l.search.others, n.name)
			l.closeLine(n)
		}
	}
	if len(out) > 0 {
		l.search.start(l.readers, out, l.lines)
	}
}
