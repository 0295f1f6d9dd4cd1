package link

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"aplomb/device"
	"aplomb/device/wire"
)

// searchEvery is how often lines that are out are looked for.
const searchEvery = 200 * time.Millisecond

// searcher looks for ports that are out: under their names, under the serial
// numbers of their USB adapters, and among ports that were not there before.
type searcher struct {
	list   func() ([]PortInfo, error)
	baud   int
	others []string // ports not to be touched: there from the start and not ours, or without a strip
	blind  bool     // the ports that were there from the start are not known
	busy   bool
	last   time.Time
}

// newSearcher notes what there is now, and what the system knows of our ports.
// It comes before they are opened: see mayList.
func newSearcher(list func() ([]PortInfo, error), baud int, ports []*port) searcher {
	s := searcher{list: list, baud: baud}
	all, err := list()
	s.blind = err != nil
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

// found is what a search has found.
type found struct {
	lines []*line
	names []string // of all ports there are; nil where that was not looked up
}

// begin looks for those ports on a goroutine of its own, among all that is not
// open already. What is found comes as a chunk.
func (s *searcher) begin(r *readers, out []*port, open []*line) {
	if s.busy || time.Since(s.last) < searchEvery {
		return
	}
	k := look{list: s.list, baud: s.baud, out: out, others: slices.Clone(s.others)}
	k.widely = !s.blind && mayList(open) && slices.ContainsFunc(out, func(p *port) bool { return p.line == nil })
	for _, n := range open {
		k.tried = append(k.tried, n.device)
	}
	s.busy = r.run(func() {
		k.around()
		r.send(chunk{found: &k.found})
		for _, n := range k.found.lines {
			r.start(n)
		}
	})
}

// mayList says whether ports may be listed while those lines are open. On
// Linux the list opens the ports that are no USB ports, and sets them to
// another speed, even ours where the user is root.
func mayList(open []*line) bool {
	return !slices.ContainsFunc(open, func(n *line) bool {
		return strings.HasPrefix(n.device, "/dev/ttyS") || strings.HasPrefix(n.device, "/dev/ttyHS")
	})
}

// end takes note of what was found.
func (s *searcher) end(f *found) {
	s.busy, s.last = false, time.Now()
	if f.names != nil { // a port that has gone is another when it comes back
		s.others = slices.DeleteFunc(s.others, func(name string) bool { return !slices.Contains(f.names, name) })
	}
}

// look is one search. Of the ports it reads nothing but names and adapters,
// which do not change.
type look struct {
	list   func() ([]PortInfo, error)
	baud   int
	out    []*port
	widely bool     // under other names as well
	others []string // but not these
	tried  []string // devices
	found
}

func (k *look) around() {
	var all []PortInfo
	if k.widely {
		all, _ = k.list() // where it fails, there is another time
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

// open opens a port, once. One that cannot be opened will be tried again.
func (k *look) open(name string, likely *port) {
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

// isAway says whether p has no line, or one that has long been silent.
func (l *Link) isAway(p *port) bool { return p.line == nil || p.line.quiet > l.maxQuiet }

// away returns the ports that are.
func (l *Link) away() (out []*port) {
	for _, p := range l.ports {
		if l.isAway(p) {
			out = append(out, p)
		}
	}
	return out
}

// adopt takes the lines that were found. Whose they are a hello will tell.
func (l *Link) adopt(f *found) {
	l.search.end(f)
	out := l.away()
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
		if n.likely != nil && l.isAway(n.likely) && !l.saysHello(n.likely) {
			l.attach(n, n.likely)
		}
	}
}

// saysHello says whether a strip at p has ever said who it is.
func (l *Link) saysHello(p *port) bool {
	return slices.ContainsFunc(p.feet, func(f device.Foot) bool { return l.sides[f].stats.Hello })
}

// attach makes n the line of p, instead of what it had and was.
func (l *Link) attach(n *line, p *port) {
	l.detach(n)
	if p.line != nil {
		l.drop(p.line)
	}
	n.port, n.strange, p.line = p, "", n
	n.decoder.Expect(l.strips(p))
	for _, f := range p.feet {
		s := l.sides[f]
		s.open = false
		s.dropped = bad(n.decoder)
		s.unwrap.Resume()
		if s.out.cause == "" {
			s.out = outage{cause: LineSilent}
		}
	}
}

// detach makes n nobody's line.
func (l *Link) detach(n *line) {
	p := n.port
	if p == nil {
		return
	}
	p.past = p.past.Plus(n.decoder.Stats())
	n.port, p.line = nil, nil
}

// drop closes n, soon.
func (l *Link) drop(n *line) {
	l.detach(n)
	n.leave.Store(true)
	l.forget(n)
}

func (l *Link) forget(n *line) {
	l.lines = slices.DeleteFunc(l.lines, func(other *line) bool { return other == n })
}

// lose goes on without a line that has ended. Before every foot has been heard
// it is the end, after what has arrived.
func (l *Link) lose(n *line, err error) {
	p := n.port
	l.detach(n)
	l.forget(n)
	switch {
	case !l.begun:
		if l.end == nil {
			l.end = fmt.Errorf("port %s: the line has ended (%w): is the cable still in?", n.name, err)
		}
		l.readers.stop()
	case p != nil:
		for _, f := range p.feet {
			l.goOut(l.sides[f], CableOut, fmt.Sprintf("port %s has gone (%v)", n.name, err))
		}
	case n.likely != nil && n.likely.line == nil:
		for _, f := range n.likely.feet {
			l.tell(l.sides[f], fmt.Sprintf("port %s has gone (%v)", n.name, err))
		}
	}
}
