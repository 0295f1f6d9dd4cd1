// Package ports determines which strip is on which serial port, and stores that for the
// next time.
//
// Strips announce themselves once a second, so it listens to every port for a short time.
// A strip that does not announce itself is recognized by the port or the USB adapter
// where it was last, or because it is the only port whose frames fit it.
package ports

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"runtime"
	"slices"
	"strings"
	"time"

	"aplomb/device"
	"aplomb/device/link"
	"aplomb/device/wire"
	"aplomb/plots/words"
)

// The kinds of errors of Find that callers distinguish with errors.Is. Where a single port
// is the reason, the error also matches that of package link, such as link.ErrBusy.
var (
	// ErrNone: no strip was found.
	ErrNone = errors.New("no strip found")
	// ErrOne: the strip of one foot was found, that of the other was not.
	ErrOne = errors.New("one strip only")
	// ErrUnclear: several strips or ports are possible, and none was chosen.
	ErrUnclear = errors.New("not clear which strip")
)

// othersFor is how long the other ports are listened to once a strip of every foot has
// announced itself: a second strip of the same name or foot may be on one of them.
const othersFor = 1500 * time.Millisecond

// Search specifies which strips to find.
type Search struct {
	// Strips are the profiles of the strips that may be plugged in, without nil ones. One
	// is searched for under each foot that they name.
	Strips []*device.Strip
	Last   []Place       // last known ports of strips
	Baud   int           // the speed of the ports; 0 where unknown
	For    time.Duration // how long to listen at most; 0 stands for 6 s

	// List lists the ports of this machine; nil stands for link.Ports.
	List func() ([]link.PortInfo, error)
	// Choose, where it is not nil, asks the user for one of the options and returns its
	// index.
	Choose func(asks string, options []string) (int, error)
	// Progress, where it is not nil, is called several times a second with one line.
	Progress func(line string)
}

// Found contains the ports of the strips. Its arrays are by foot; a foot that was not
// searched for has "" and nil.
type Found struct {
	Ports  [2]string // the same one twice where one line carries both feet
	Strips [2]*device.Strip
	Baud   int
	Places []Place  // ports to store
	Notes  []string // information for the user on how a strip was recognized
}

// Find listens to all ports, for 6 s at most, and returns which strip is on which. Every
// error is one line that states what was received instead and what to do.
func Find(ctx context.Context, s Search) (Found, error) {
	s.Strips = slices.DeleteFunc(slices.Clone(s.Strips), func(p *device.Strip) bool { return p == nil })
	if s.List == nil {
		s.List = link.Ports
	}
	list, err := s.List()
	if err != nil {
		return Found{}, err
	}
	f := finder{Search: s, list: list}
	for _, strip := range s.Strips {
		f.wanted[strip.Foot] = true
	}
	names := f.names()
	if len(names) == 0 {
		return Found{}, fmt.Errorf("%w: this machine has no serial port: plug the strips in (aplomb guide ports says what to do where they do not appear)", ErrNone)
	}
	f.heard = link.Listen(ctx, link.Listening{Ports: names, Bauds: f.bauds(), Strips: s.Strips, For: s.For, Enough: f.enough})
	if err := ctx.Err(); err != nil {
		return Found{}, err
	}
	return f.match()
}

// finder matches strips with the data received on ports.
type finder struct {
	Search
	list   []link.PortInfo
	wanted [2]bool // by foot
	heard  []link.Heard
	found  Found
}

// names returns the ports to listen to, each device once: those of this machine, and
// stored ones that exist without being listed, such as pseudo-terminals.
func (f *finder) names() (names []string) {
	add := func(name string) {
		if !slices.ContainsFunc(names, func(n string) bool { return link.SamePort(n, name) }) {
			names = append(names, name)
		}
	}
	for _, p := range f.list {
		// On macOS every port has a second name, under which opening waits for a modem.
		if runtime.GOOS != "darwin" || !strings.HasPrefix(p.Name, "/dev/tty.") {
			add(p.Name)
		}
	}
	for _, p := range f.Last {
		if _, err := os.Stat(p.Port); err == nil && slices.ContainsFunc(f.Strips, p.is) {
			add(p.Port)
		}
	}
	return names
}

// bauds returns the speeds to try, stored ones first.
func (f *finder) bauds() []int {
	if f.Baud != 0 {
		return []int{f.Baud}
	}
	var all []int
	for _, p := range f.Last {
		if p.Baud > 0 && slices.ContainsFunc(f.Strips, p.is) && !slices.Contains(all, p.Baud) {
			all = append(all, p.Baud)
		}
	}
	for _, b := range link.Bauds {
		if !slices.Contains(all, b) {
			all = append(all, b)
		}
	}
	return all
}

// enough reports whether a strip of every foot has announced itself and no other port may
// still do so.
func (f *finder) enough(heard []link.Heard, since time.Duration) bool {
	f.heard = heard
	var known [2]bool
	var names []string
	quiet := false
	for i := range heard {
		h := &heard[i]
		quiet = quiet || !h.Done && len(h.Hellos) == 0
		for k := range h.Hellos {
			if s := f.named(&h.Hellos[k]); s != nil {
				known[s.Foot] = true
				names = append(names, fmt.Sprintf("%s on %s", s.Name, h.Port))
			}
		}
	}
	if f.Progress != nil {
		line := fmt.Sprintf("listening to %d serial ports", len(heard))
		if len(heard) == 1 {
			line = "listening to " + heard[0].Port
		}
		f.Progress(strings.Join(append([]string{line}, names...), ", "))
	}
	return known == f.wanted && (!quiet || since > othersFor)
}

// named returns the profile of the strip that announces itself as h, nil where there is
// none or h contradicts it.
func (f *finder) named(h *wire.Hello) *device.Strip {
	i := slices.IndexFunc(f.Strips, func(s *device.Strip) bool { return s.Foot == h.Foot && link.Mismatch("", h, s) == nil })
	if i < 0 {
		return nil
	}
	return f.Strips[i]
}

// match finds the port of every foot.
func (f *finder) match() (Found, error) {
	for _, foot := range device.Feet {
		if f.wanted[foot] {
			if err := f.byHello(foot); err != nil {
				return Found{}, err
			}
		}
	}
	f.byLast()
	for _, foot := range device.Feet {
		if f.missing(foot) {
			if err := f.byFrames(foot); err != nil {
				return Found{}, err
			}
		}
	}
	for _, foot := range device.Feet {
		if f.missing(foot) {
			return Found{}, f.notFound()
		}
	}
	return f.found, f.sameSpeed()
}

// missing reports whether a foot is searched for and has not been found.
func (f *finder) missing(foot device.Foot) bool { return f.wanted[foot] && f.found.Ports[foot] == "" }

// take records that a strip was found.
func (f *finder) take(s *device.Strip, h *link.Heard) {
	f.found.Ports[s.Foot], f.found.Strips[s.Foot] = h.Port, s
	f.found.Places = append(f.found.Places, PlaceOf(s.Name, h.Port, h.Baud, f.list))
}

// spot is a strip on a port.
type spot struct {
	strip *device.Strip
	heard *link.Heard
}

// byHello finds the strip of a foot by its hello.
func (f *finder) byHello(foot device.Foot) error {
	var spots []spot
	for i := range f.heard {
		for k := range f.heard[i].Hellos {
			if s := f.named(&f.heard[i].Hellos[k]); s != nil && s.Foot == foot {
				spots = append(spots, spot{s, &f.heard[i]})
			}
		}
	}
	switch {
	case len(spots) == 0:
		return nil
	case len(spots) == 1:
		f.take(spots[0].strip, spots[0].heard)
		return nil
	}
	for _, other := range spots[1:] {
		if other.strip == spots[0].strip {
			return fmt.Errorf("%w: ports %s and %s: both strips say that they are %s of the %s foot: unplug one, or give it another name and foot in its firmware (aplomb guide setup)",
				ErrUnclear, spots[0].heard.Port, other.heard.Port, other.strip.Name, foot)
		}
	}
	var options []string
	for _, one := range spots {
		options = append(options, fmt.Sprintf("strip %s on %s", one.strip.Name, one.heard.Port))
	}
	i, err := f.choose(fmt.Sprintf("Several strips of the %s foot are plugged in. Which is under the shoe?", foot), options,
		fmt.Sprintf("several strips of the %s foot are plugged in: %s: unplug one, or say which with --strip", foot, strings.Join(options, ", ")))
	if err == nil {
		f.take(spots[i].strip, spots[i].heard)
	}
	return err
}

// byLast finds strips that do not announce themselves at their last known ports: first by
// the USB adapter, then by the name of the port.
func (f *finder) byLast() {
	for _, same := range []func(Place, *link.Heard) bool{
		func(p Place, h *link.Heard) bool { return p.Adapter != "" && p.Adapter == adapterOf(h.Port, f.list) },
		func(p Place, h *link.Heard) bool {
			return (p.Adapter == "" || adapterOf(h.Port, f.list) == "") && link.SamePort(p.Port, h.Port)
		},
	} {
		for _, p := range f.Last {
			for _, one := range f.unnamed() {
				if p.is(one.strip) && f.missing(one.strip.Foot) && same(p, one.heard) && !f.taken(one.heard, one.strip.Foot) {
					f.take(one.strip, one.heard)
					f.found.Notes = append(f.found.Notes, fmt.Sprintf("strip %s does not announce itself: it is taken to be on port %s, as last time; a pad press of each foot shows whether strips were swapped",
						one.strip.Name, one.heard.Port))
				}
			}
		}
	}
}

// byFrames finds the strip of a foot by frames that fit it. It ignores a line of text
// that may be of either foot and is the only one.
func (f *finder) byFrames(foot device.Foot) error {
	var spots []spot
	var options []string
	for _, one := range f.unnamed() {
		if one.strip.Foot == foot && !f.taken(one.heard, foot) {
			spots = append(spots, one)
			options = append(options, fmt.Sprintf("strip %s on %s", one.strip.Name, one.heard.Port))
		}
	}
	if len(spots) == 0 || len(spots) == 1 && spots[0].heard.Format == wire.Text && f.missing(foot.Other()) {
		return nil
	}
	if len(spots) > 1 {
		i, err := f.choose(fmt.Sprintf("No strip says who it is. Which is under the %s shoe?", foot), options,
			fmt.Sprintf("frames come from strips that do not say who they are: %s is possible: name the ports once with --left and --right, and they are remembered", strings.Join(options, " or ")))
		if err != nil {
			return err
		}
		spots = spots[i : i+1]
	}
	f.take(spots[0].strip, spots[0].heard)
	f.found.Notes = append(f.found.Notes, fmt.Sprintf("strip %s does not announce itself: it is taken to be on port %s, whose frames fit it; a pad press of each foot shows whether strips were swapped",
		spots[0].strip.Name, spots[0].heard.Port))
	return nil
}

// unnamed returns every strip with every port whose frames fit it and on which no strip has
// announced itself.
func (f *finder) unnamed() (all []spot) {
	for i := range f.heard {
		h := &f.heard[i]
		if len(h.Hellos) > 0 {
			continue
		}
		for _, s := range f.Strips {
			if slices.Contains(h.Fits, s) {
				all = append(all, spot{s, h})
			}
		}
	}
	return all
}

// taken reports whether a port is that of the other foot and cannot carry both: text
// carries one foot only.
func (f *finder) taken(h *link.Heard, foot device.Foot) bool {
	return h.Format == wire.Text && f.found.Ports[foot.Other()] == h.Port
}

// choose asks the user for one of the options, and returns ErrUnclear without a user.
func (f *finder) choose(asks string, options []string, unclear string) (int, error) {
	if f.Choose == nil {
		return 0, fmt.Errorf("%w: %s", ErrUnclear, unclear)
	}
	return f.Choose(asks, options)
}

// sameSpeed sets the speed of the ports, and returns an error where two of them differ.
func (f *finder) sameSpeed() error {
	for _, p := range f.found.Places {
		if f.found.Baud != 0 && f.found.Baud != p.Baud {
			return fmt.Errorf("strip %s sends at %d bits a second, strip %s at %d: give both the same speed in their firmware",
				f.found.Places[0].Strip, f.found.Baud, p.Strip, p.Baud)
		}
		f.found.Baud = p.Baud
	}
	return nil
}

// notFound returns which strips were not found, and what was received instead.
func (f *finder) notFound() error {
	kind, said := ErrNone, ""
	var missing []string
	for _, s := range f.Strips {
		if f.missing(s.Foot) {
			missing = append(missing, fmt.Sprintf("%s (%s)", s.Name, s.Foot))
		}
	}
	for _, foot := range device.Feet {
		if s := f.found.Strips[foot]; s != nil {
			kind, said = ErrOne, fmt.Sprintf("strip %s (%s) on %s, ", s.Name, foot, f.found.Ports[foot])
		}
	}
	said += "nothing of " + strings.Join(missing, " or ")
	var cause error
	var whys, silent []string
	for i := range f.heard {
		h := &f.heard[i]
		if slices.Contains(f.found.Ports[:], h.Port) && h.Err == nil {
			continue
		}
		why, err := f.why(h)
		switch {
		case why == "":
			silent = append(silent, h.Port)
			continue
		case len(h.Hellos) > 0: // the most informative
			whys, cause = slices.Insert(whys, 0, why), cmp.Or(err, cause)
		default:
			whys, cause = append(whys, why), cmp.Or(cause, err)
		}
	}
	if len(whys) > 2 {
		whys = append(whys[:2], words.Count(len(whys)-2, "more port", "more ports")+" with something else")
	}
	switch {
	case len(silent) > 3:
		whys = append(whys, fmt.Sprintf("no data on %d more ports", len(silent)))
	case len(silent) > 0:
		whys = append(whys, fmt.Sprintf("port %s: no data: is the strip switched on?", strings.Join(silent, ", ")))
	}
	if len(whys) == 0 {
		whys = []string{"there is no other serial port: plug the strip in"}
	}
	if kind == ErrOne {
		whys = append(whys, fmt.Sprintf("aplomb record --strip %s records that foot alone", f.found.Places[0].Strip))
	}
	err := fmt.Errorf("%w: %s: %s", kind, said, strings.Join(whys, "; "))
	if cause == nil && len(silent) > 0 {
		cause = link.ErrSilent
	}
	if cause == nil {
		return err
	}
	return caused{err, cause}
}

// caused is an error with another one as its cause, whose text it already contains.
type caused struct {
	error
	cause error
}

func (c caused) Unwrap() []error { return []error{c.error, c.cause} }

// why returns why nothing on a port is one of the strips, "" where no byte was received.
// err is the error of the port, nil where it has none.
func (f *finder) why(h *link.Heard) (why string, err error) {
	for k := range h.Hellos {
		hello := &h.Hellos[k]
		for _, s := range f.Strips {
			if s.Name != hello.Strip {
				continue
			}
			if err := link.Mismatch(h.Port, hello, s); err != nil {
				return err.Error(), err
			}
			if s.Foot != hello.Foot {
				return fmt.Sprintf("port %s: strip %s says that it is under the %s foot, its profile says %s: correct the profile or the firmware", h.Port, s.Name, hello.Foot, s.Foot), link.ErrWrongFoot
			}
		}
	}
	switch {
	case h.Err != nil:
		return h.Err.Error(), h.Err
	case len(h.Hellos) > 0 && f.named(&h.Hellos[0]) == nil:
		return fmt.Sprintf("port %s: strip %q of the %s foot, which is none of these: aplomb strip new --port %s enters it", h.Port, h.Hellos[0].Strip, h.Hellos[0].Foot, h.Port), link.ErrWrongStrip
	case len(h.Hellos) > 0:
		return fmt.Sprintf("port %s: strip %s alone", h.Port, h.Hellos[0].Strip), nil
	case len(h.Fits) > 0:
		return fmt.Sprintf("port %s: frames of a strip that does not say who it is: name the port once with --left or --right, and it is remembered", h.Port), nil
	case h.Format != wire.Unknown:
		return fmt.Sprintf("port %s: frames that fit none of these", h.Port), link.ErrNoFrames
	case h.Bytes > 0:
		return fmt.Sprintf("port %s: data that is of no strip, or at another speed (--baud)", h.Port), link.ErrNoFrames
	}
	return "", nil
}
