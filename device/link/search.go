package link

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"aplomb/device"
	"aplomb/device/wire"
)

// searchEvery is the interval between two searches for ports that are out.
const searchEvery = 200 * time.Millisecond

// searcher searches for ports that are out: by their names, by the serial numbers of
// their USB adapters, and among ports that have appeared since the link was opened.
type searcher struct {
	list    func() ([]PortInfo, error)
	baud    int
	others  []string // ports not to be opened: foreign ones from the start, or ports found to have no strip
	unknown bool     // the list of ports failed at the start, so that others is not known
	busy    bool     // a search is running
	last    time.Time
}

// newSearcher lists the existing ports and determines which of them are ours. It must be
// called before they are opened: see mayList.
func newSearcher(list func() ([]PortInfo, error), baud int, ports []*port) searcher {
	s := searcher{list: list, baud: baud}
	all, err := list()
	s.unknown = err != nil
	for _, info := range all {
		ours := false
		for _, p := range ports {
			if resolve(info.Name) == resolve(p.name) {
				p.usb, ours = info, true
			}
		}
		if !ours {
			s.others = append(s.others, info.Name)
		}
	}
	return s
}

// found is the result of a search.
type found struct {
	lines []*line
	names []string // of all ports of this machine; nil where they were not listed
}

// start begins a search for those ports in a new goroutine, unless one is running or has
// just run. Its result arrives as a chunk.
func (s *searcher) start(r *readers, out []*port, open []*line) {
	if s.busy || time.Since(s.last) < searchEvery {
		return
	}
	k := search{list: s.list, baud: s.baud, out: out, others: slices.Clone(s.others)}
	k.listAll = !s.unknown && mayList(open) && slices.ContainsFunc(out, func(p *port) bool { return p.line == nil })
	for _, n := range open {
		k.tried = append(k.tried, n.device)
	}
	s.busy = r.run(func() {
		k.run()
		r.send(chunk{found: &k.found})
		for _, n := range k.found.lines {
			r.start(n)
		}
	})
}

// mayList reports whether ports may be listed while those lines are open. On Linux
// listing opens all ports that are not USB ports and sets them to another speed,
// also those that are in use where the user is root.
func mayList(open []*line) bool {
	return !slices.ContainsFunc(open, func(n *line) bool {
		return strings.HasPrefix(n.device, "/dev/ttyS") || strings.HasPrefix(n.device, "/dev/ttyHS")
	})
}

// finish processes the result of a search.
func (s *searcher) finish(f *found) {
	s.busy, s.last = false, time.Now()
	if f.names != nil { // a port that has disappeared may have a strip when it is back
		s.others = slices.DeleteFunc(s.others, func(name string) bool { return !slices.Contains(f.names, name) })
	}
}

// search is one search. It reads only the names and adapters of the ports, which do not
// change while it runs.
type search struct {
	list    func() ([]PortInfo, error)
	baud    int
	out     []*port
	listAll bool     // search under all names, except others
	others  []string // names
	tried   []string // devices that have been opened, or could not be
	found
}

// run opens every line that may belong to a port that is out.
func (k *search) run() {
	var all []PortInfo
	if k.listAll {
		all, _ = k.list() // a failure leaves the other names to a later search
	}
	for _, info := range all {
		k.names = append(k.names, info.Name)
	}
	for _, p := range k.out {
		likely := p
		for _, info := range all {
			if info.SerialNumber != "" && sameAdapter(info, p.usb) {
				k.open(info.Name, p)
			}
			if p.usb.SerialNumber != "" && !sameAdapter(info, p.usb) && resolve(info.Name) == resolve(p.name) {
				likely = nil // another adapter has its name now
			}
		}
		k.open(p.name, likely)
	}
	for _, name := range k.names {
		if !slices.Contains(k.others, name) {
			k.open(name, nil)
		}
	}
}

func sameAdapter(a, b PortInfo) bool {
	return a.VendorID == b.VendorID && a.ProductID == b.ProductID && a.SerialNumber == b.SerialNumber
}

// open opens a port unless it was tried before in this search. A port that cannot
// be opened is tried again in the next one.
func (k *search) open(name string, likely *port) {
	device := resolve(name)
	if slices.Contains(k.tried, device) {
		return
	}
	k.tried = append(k.tried, device)
	if n, err := openLine(name, k.baud); err == nil {
		n.likely = likely
		k.lines = append(k.lines, n)
	}
}

// isOut reports whether p has no line, or one that has been silent for long.
func (l *Link) isOut(p *port) bool { return p.line == nil || p.line.quiet > l.maxQuiet }

// portsOut returns the ports that are out.
func (l *Link) portsOut() (out []*port) {
	for _, p := range l.ports {
		if l.isOut(p) {
			out = append(out, p)
		}
	}
	return out
}

// useFound adds the lines found by a search. A hello on a line determines which port it
// belongs to.
func (l *Link) useFound(f *found) {
	l.search.finish(f)
	out := l.portsOut()
	for _, n := range f.lines {
		if len(out) == 0 {
			n.leave.Store(true)
			continue
		}
		n.decoder = wire.NewDecoder(l.strips(out...))
		if n.likely != nil {
			n.decoder.Expect(l.strips(n.likely))
		}
		l.lines = append(l.lines, n)
		if n.likely != nil && l.isOut(n.likely) && !l.hasHello(n.likely) {
			l.attach(n, n.likely)
		}
	}
}

// hasHello reports whether a strip at p has ever announced itself.
func (l *Link) hasHello(p *port) bool {
	return slices.ContainsFunc(p.feet, func(f device.Foot) bool { return l.feet[f].stats.Hello })
}

// attach makes n the line of p. The line that p had is closed.
func (l *Link) attach(n *line, p *port) {
	l.detach(n)
	if p.line != nil {
		l.closeLine(p.line)
	}
	n.port, n.stranger, p.line = p, nil, n
	n.decoder.Expect(l.strips(p))
	for _, f := range p.feet {
		s := l.feet[f]
		s.accepted = false
		s.dropped = droppedBy(n.decoder)
		s.unwrap.Resume()
		if s.out.cause == "" {
			s.out = outage{cause: LineSilent}
		}
	}
}

// detach makes n the line of no port.
func (l *Link) detach(n *line) {
	p := n.port
	if p == nil {
		return
	}
	p.past = p.past.Plus(n.decoder.Stats())
	n.port, p.line = nil, nil
}

// closeLine makes the reader of n close it, and ignores further bytes from it.
func (l *Link) closeLine(n *line) {
	l.detach(n)
	n.leave.Store(true)
	l.removeLine(n)
}

// removeLine removes n from the lines that are open.
func (l *Link) removeLine(n *line) {
	l.lines = slices.DeleteFunc(l.lines, func(other *line) bool { return other == n })
}

// lineEnded continues without a line that has ended. Until every foot has sent a frame
// the source ends with it, after everything that has arrived.
func (l *Link) lineEnded(n *line, err error) {
	p := n.port
	l.detach(n)
	l.removeLine(n)
	switch {
	case !l.begun:
		if l.end == nil {
			l.end = fmt.Errorf("port %s: %w (%w): is the cable still in?", n.name, ErrLineEnded, err)
		}
		l.readers.stop()
	case p != nil:
		for _, f := range p.feet {
			l.setOut(l.feet[f], CableOut, Notice{Code: PortGone, Port: n.name, Foot: f, Cause: err.Error()})
		}
	case n.likely != nil && n.likely.line == nil:
		for _, f := range n.likely.feet {
			l.setAway(l.feet[f], Notice{Code: PortGone, Port: n.name, Foot: f, Cause: err.Error()})
		}
	}
}
