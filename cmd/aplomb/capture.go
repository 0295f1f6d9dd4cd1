package main

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"aplomb/device"
	"aplomb/device/link"
	"aplomb/device/recording"
)

// tally is what has come from the strips so far.
type tally struct {
	link        source
	file        *recording.Writer // nil until every foot has been heard
	meta        device.Metadata
	frames      int
	first, last time.Time     // arrival of the first frame and of the last
	kept        bool          // the recording has been made
	told        [2]int        // warnings of link and file that news has returned
	before      [2]link.Stats // what had come when the recording began
}

// counted returns how many frames of a foot the recording has, and how many it lacks.
func (n *tally) counted(f device.Foot) (frames, lost uint64) {
	s := n.link.Stats()[f]
	return s.Frames - n.before[f].Frames, s.Lost - n.before[f].Lost
}

func (n *tally) add(f *device.Frame) {
	n.last = time.Unix(0, f.ArrivalNS)
	if n.frames == 0 {
		n.first = n.last
	}
	n.frames++
}

// length is how long frames have been coming for.
func (n *tally) length() time.Duration { return n.last.Sub(n.first) }

// String is one line for people: time, and frames and losses of each foot.
func (n *tally) String() string {
	feet := []string{fmt.Sprintf("%.1f s", n.length().Seconds())}
	stats := n.link.Stats()
	for _, f := range device.Feet {
		if n.meta.Sides[f] == nil {
			continue
		}
		s := stats[f]
		frames, lost := n.counted(f)
		text := fmt.Sprintf("%s %d frames", f, frames)
		switch {
		case lost > 0:
			text += fmt.Sprintf(", %d lost", lost)
		case s.Frames > 0 && !s.HasSeq && s.Line.Dropped > 0: // nothing else tells of losses
			text += fmt.Sprintf(", %d bytes dropped", s.Line.Dropped)
		}
		feet = append(feet, text)
	}
	return strings.Join(feet, "; ")
}

// news returns the warnings of the link and of the file that have come since it
// was last asked.
func (n *tally) news() (news []string) {
	notices := n.link.Warnings()
	for _, w := range notices[n.told[0]:] {
		news = append(news, w.String())
	}
	n.told[0] = len(notices)
	if n.file != nil {
		warnings := n.file.Warnings()
		news = append(news, warnings[n.told[1]:]...)
		n.told[1] = len(warnings)
	}
	return news
}

// recorder records what comes in on a link. Its functions may be nil; they are
// called from record.
type recorder struct {
	link source
	meta device.Metadata
	out  string

	// ready is asked with every frame once all feet have been heard, until it
	// says that the recording begins with the next one; what came before is not
	// recorded. Without it every frame is.
	ready func(*device.Frame) (bool, error)
	// watch is called after every frame that is recorded, or will be.
	watch func(*tally, *device.Frame)
	// marks returns what a person has marked since it was last called.
	marks func() []device.Event
}

// capture records what comes in on a link until it ends. watch is called after
// every frame.
func capture(src source, m device.Metadata, out string, watch func(*tally)) (*tally, error) {
	r := recorder{link: src, meta: m, out: out, watch: func(n *tally, _ *device.Frame) { watch(n) }}
	return r.record()
}

// record records until the link ends. Until every foot has been heard nothing
// is written, and an error leaves no file; after that an error leaves the
// recording of what came before it, and the tally says that it is kept.
func (r *recorder) record() (*tally, error) {
	n := &tally{link: r.link, meta: r.meta}
	first, err := r.hearAll(n)
	if err == nil && r.ready != nil {
		first, err = nil, r.wait(n)
	}
	if err != nil {
		return n, err
	}
	w, err := recording.Create(r.out, n.meta)
	if err != nil {
		return n, err
	}
	n.file = w
	err = r.copy(n, w, first)
	closed := w.Close()
	n.kept = closed == nil
	if err != nil && errors.Is(closed, err) {
		return n, closed // the same said twice
	}
	return n, errors.Join(err, closed)
}

// hearAll waits until every foot has been heard: only then is it known what
// the strips send, which the recording says at its beginning. It returns the
// frames that came meanwhile.
func (r *recorder) hearAll(n *tally) (first []device.Frame, err error) {
	heard := [2]bool{n.meta.Sides[device.Left] == nil, n.meta.Sides[device.Right] == nil}
	for !heard[device.Left] || !heard[device.Right] {
		var f device.Frame
		if err := r.link.Next(&f); err != nil {
			return nil, n.unheard(heard, err)
		}
		n.add(&f)
		if !heard[f.Foot] {
			heard[f.Foot] = true
			side := *n.meta.Sides[f.Foot]
			s := r.link.Stats()[f.Foot]
			side.Format, side.Clock = s.Line.Format.String(), s.Clock
			n.meta.Sides[f.Foot] = &side
		}
		f.Counts = slices.Clone(f.Counts)
		first = append(first, f)
		if r.ready == nil && r.watch != nil {
			r.watch(n, &f)
		}
	}
	return first, nil
}

// wait waits until the recording may begin.
func (r *recorder) wait(n *tally) error {
	var f device.Frame
	for ready := false; !ready; {
		err := r.link.Next(&f)
		if errors.Is(err, io.EOF) {
			return errors.New("stopped before the left platform had been pressed; nothing was recorded")
		}
		if err == nil {
			ready, err = r.ready(&f)
		}
		if err != nil {
			return err
		}
	}
	r.link.Events() // of a time that is not recorded
	n.frames, n.before = 0, r.link.Stats()
	return nil
}

// unheard says why the recording did not begin, and what became of the frames
// that had come.
func (n *tally) unheard(heard [2]bool, err error) error {
	if errors.Is(err, io.EOF) {
		foot := device.Left
		if heard[device.Left] {
			foot = device.Right
		}
		err = fmt.Errorf("stopped before a frame of the %s foot had come", foot)
	}
	if n.frames == 0 {
		return fmt.Errorf("%w; nothing was recorded", err)
	}
	return fmt.Errorf("%w; nothing was recorded, the %d frames of the other foot were not kept", err, n.frames)
}

// copy writes first, and then frames, events and marks until the link ends.
func (r *recorder) copy(n *tally, w *recording.Writer, first []device.Frame) error {
	for i := range first {
		if err := w.Write(&first[i]); err != nil {
			return err
		}
	}
	var f device.Frame
	for {
		err := r.link.Next(&f)
		for _, e := range r.link.Events() {
			if err := w.WriteEvent(e); err != nil {
				return err
			}
		}
		if r.marks != nil {
			for _, e := range r.marks() {
				if err := w.WriteEvent(e); err != nil {
					return err
				}
			}
		}
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		if err := w.Write(&f); err != nil {
			return err
		}
		n.add(&f)
		if r.watch != nil {
			r.watch(n, &f)
		}
	}
}
