package capture

import (
	"fmt"
	"strings"
	"time"

	"aplomb/device"
	"aplomb/device/recording"
)

// Tally counts the data received from the strips so far.
type Tally struct {
	File *recording.Writer // nil until every foot has sent a frame
	Kept bool              // the recording has been made

	source      Source
	meta        device.Metadata
	frames      int
	first, last time.Time // arrival of the first frame and of the last
	told        [2]int    // warnings of source and file that News has returned
}

// Counted returns the numbers of recorded and of missing frames of a foot.
func (n *Tally) Counted(f device.Foot) (frames, lost uint64) {
	s := n.source.Stats()[f]
	return s.Frames, s.Lost
}

func (n *Tally) add(f *device.Frame) {
	n.last = time.Unix(0, f.ArrivalNS)
	if n.frames == 0 {
		n.first = n.last
	}
	n.frames++
}

// Length returns the time from the first frame to the last.
func (n *Tally) Length() time.Duration { return n.last.Sub(n.first) }

// String returns one line for people: time, and frames and losses of each foot.
func (n *Tally) String() string {
	feet := []string{fmt.Sprintf("%.1f s", n.Length().Seconds())}
	stats := n.source.Stats()
	for _, f := range device.Feet {
		if n.meta.Sides[f] == nil {
			continue
		}
		s := stats[f]
		frames, lost := n.Counted(f)
		said := fmt.Sprintf("%s %d frames", f, frames)
		switch {
		case lost > 0:
			said += fmt.Sprintf(", %d lost", lost)
		case s.Frames > 0 && !s.HasSeq && s.Line.Dropped > 0: // no other count shows losses
			said += fmt.Sprintf(", %d bytes dropped", s.Line.Dropped)
		}
		feet = append(feet, said)
	}
	return strings.Join(feet, "; ")
}

// News returns the warnings of the source and of the file since its last call.
func (n *Tally) News() (news []string) {
	for i, all := range n.warnings() {
		news = append(news, all[n.told[i]:]...)
		n.told[i] = len(all)
	}
	return news
}

// Warnings returns all warnings of the source and of the file.
func (n *Tally) Warnings() []string {
	all := n.warnings()
	return append(all[0][:len(all[0]):len(all[0])], all[1]...)
}

func (n *Tally) warnings() [2][]string {
	var all [2][]string
	for _, w := range n.source.Warnings() {
		all[0] = append(all[0], w.String())
	}
	if n.File != nil {
		all[1] = n.File.Warnings()
	}
	return all
}
