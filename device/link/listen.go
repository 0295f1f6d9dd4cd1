package link

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"sync"
	"time"

	"go.bug.st/serial"

	"aplomb/device"
	"aplomb/device/wire"
)

// Bauds are the speeds that Listen tries on a port with unreadable bytes, the most likely
// ones first: DefaultBaud, the speed of the firmware of this module, and the other speeds
// in its documentation except those with few frames a second.
var Bauds = [...]int{DefaultBaud, 500_000, 1_000_000, 115_200, 250_000, 460_800, 230_400, 2_000_000}

const (
	// listenFor is how long to listen to a port. Opening a port resets many boards, whose
	// boot loader then waits for up to two seconds; a strip sends a hello at least once a
	// second.
	listenFor = 6 * time.Second
	// helloSpan is longer than the interval between two hellos, so that both strips of a
	// line have announced themselves after it.
	helloSpan = 2 * time.Second
	// speedSpan is how long unreadable bytes may arrive before another speed is tried.
	// The slowest strip sends 20 frames in it.
	speedSpan = 600 * time.Millisecond
)

// Listening specifies which ports to listen to, and for what.
type Listening struct {
	Ports  []string
	Bauds  []int           // tried one after the other while bytes come that cannot be read; nil for DefaultBaud alone
	Strips []*device.Strip // the profiles whose frames are recognized; hellos are read without any
	For    time.Duration   // how long at most; 0 stands for 6 s

	// Enough, where it is not nil, is called several times a second with what has been
	// heard so far and for how long; Listen ends when it returns true.
	Enough func(heard []Heard, since time.Duration) bool
}

// Heard is what was received on one port.
type Heard struct {
	Port   string          // as it was given
	Baud   int             // the speed at which it was last read
	Format wire.Format     // Unknown where nothing could be read
	Hellos []wire.Hello    // each different one once, in the order in which they came
	Fits   []*device.Strip // the profiles that frames fit, by number of cells, bits and, in binary, foot
	Bytes  uint64
	Done   bool  // it is not listened to any longer
	Err    error // why it could not be opened, or ended: one line, of a kind such as ErrBusy
}

// Listen opens ports at the same time, reads from them for a short time, and closes them.
// It gives no frames: it determines which strip is on which port. The results are in the
// order of o.Ports. It ends early where enough has been received on every port, or when
// ctx is done. A port that cannot be opened has an error in its Heard.
func Listen(ctx context.Context, o Listening) []Heard {
	ctx, cancel := context.WithTimeout(ctx, orDefault(o.For, listenFor))
	defer cancel()
	began := time.Now()
	var mu sync.Mutex
	heard := make([]Heard, len(o.Ports))
	var running sync.WaitGroup
	for i, name := range o.Ports {
		heard[i].Port = name
		running.Go(func() {
			l := listener{Listening: o, heard: Heard{Port: name}, tell: func(h Heard) {
				mu.Lock()
				heard[i] = h
				mu.Unlock()
			}}
			err := l.run(ctx)
			l.heard.Err, l.heard.Done = err, true
			l.tell(l.heard)
		})
	}
	ended := make(chan struct{})
	go func() {
		running.Wait()
		close(ended)
	}()
	tick := time.NewTicker(pollEvery)
	defer tick.Stop()
	for {
		select {
		case <-ended:
			return heard
		case <-tick.C:
		}
		if o.Enough == nil {
			continue
		}
		mu.Lock()
		sofar := slices.Clone(heard)
		mu.Unlock()
		if o.Enough(sofar, time.Since(began)) {
			cancel()
		}
	}
}

// listener listens to one port.
type listener struct {
	Listening
	heard    Heard
	tell     func(Heard)
	decoders []*wire.Decoder   // one for each number of cells and bits; the first reads hellos
	strips   [][]*device.Strip // the profiles of each decoder
}

// run listens until ctx is done or enough has been received.
func (l *listener) run(ctx context.Context) error {
	if l.Bauds == nil {
		l.Bauds = []int{DefaultBaud}
	}
	l.heard.Baud = l.Bauds[0]
	line, err := openLine(l.heard.Port, l.Bauds[0])
	if err != nil {
		return err
	}
	defer line.close()
	l.begin()
	var buf buffer
	var first, unread, framed time.Time // of the first message; since when bytes cannot be read; of the first frame that fits
	for speed := 0; ctx.Err() == nil; {
		n, err := line.Read(buf[:])
		if err != nil {
			return fmt.Errorf("port %s: %w (%w): is the cable still in?", line.name, ErrLineEnded, err)
		}
		now := time.Now()
		if n > 0 {
			l.take(buf[:n])
			unread = cmp.Or(unread, now)
		}
		if l.heard.Format != wire.Unknown {
			first = cmp.Or(first, now)
		}
		if len(l.heard.Fits) > 0 {
			framed = cmp.Or(framed, now)
		}
		l.tell(l.heard)
		switch {
		case len(l.heard.Hellos) > 0 && now.Sub(first) > helloSpan, !framed.IsZero() && now.Sub(framed) > 2*helloSpan:
			return nil
		case l.heard.Format == wire.Unknown && !unread.IsZero() && now.Sub(unread) > speedSpan && len(l.Bauds) > 1:
			speed = (speed + 1) % len(l.Bauds)
			if line.SetMode(&serial.Mode{BaudRate: l.Bauds[speed]}) == nil { // a speed that the port does not have is left out
				l.heard.Baud, unread = l.Bauds[speed], time.Time{}
				l.begin()
			}
		}
	}
	return nil
}

// begin starts decoding at another speed.
func (l *listener) begin() {
	type shape struct{ cells, bits int }
	var shapes []shape
	l.decoders, l.strips = nil, nil
	for _, s := range l.Strips {
		k := slices.Index(shapes, shape{s.Cells(), s.ADCBits})
		if k < 0 {
			k = len(shapes)
			shapes = append(shapes, shape{s.Cells(), s.ADCBits})
			l.decoders = append(l.decoders, wire.NewDecoder(s, nil))
			l.strips = append(l.strips, nil)
		}
		l.strips[k] = append(l.strips[k], s)
	}
	if len(l.decoders) == 0 {
		l.decoders = append(l.decoders, wire.NewDecoder(&device.Strip{Rows: 1, Cols: 1, ADCBits: 1}, nil)) // for hellos only
		l.strips = append(l.strips, nil)
	}
}

// take decodes bytes. It replaces the slices of l.heard instead of modifying them,
// because those reported before are read elsewhere.
func (l *listener) take(b []byte) {
	l.heard.Bytes += uint64(len(b))
	var m wire.Message
	for k, d := range l.decoders {
		d.Feed(b)
		for d.Next(&m) {
			switch {
			case m.Hello == nil:
				for _, s := range l.strips[k] {
					if (m.Foot == device.NoFoot || m.Foot == s.Foot) && !slices.Contains(l.heard.Fits, s) {
						l.heard.Fits = append(slices.Clip(l.heard.Fits), s)
					}
				}
			case k == 0 && !slices.Contains(l.heard.Hellos, *m.Hello):
				l.heard.Hellos = append(slices.Clip(l.heard.Hellos), *m.Hello)
			}
		}
		if f := d.Stats().Format; f != wire.Unknown {
			l.heard.Format = f
		}
	}
}
