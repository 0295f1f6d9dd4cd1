package recording

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/foxglove/mcap/go/mcap"

	"aplomb/device"
)

// Loss is a part of a recording that cannot be read because it is damaged. The
// parts before and after it have checksums that match.
type Loss struct {
	Offset int64 // bytes from the start of the file
	Bytes  int64
	Reason string

	// NoMessage reports that the part contained no frame and no event. Otherwise the log
	// times of the messages before and after it are FromNS and ToNS, ns since 1970. At
	// the beginning or the end of a recording they are those of the first and the last
	// message according to the summary, and without a summary they are equal.
	NoMessage    bool
	FromNS, ToNS int64

	closed bool // ToNS is known
}

// Damaged is the cause of the gap due to a damaged part of a recording.
const Damaged = "the file is damaged there"

// Losses returns the parts of the file that could not be read so far: all of them
// once Next has returned io.EOF.
func (r *Reader) Losses() []Loss { return r.losses }

// resume continues after damage at the next record that is shown to be complete by a
// checksum. Where there is none the reading ends: with a loss in a file that was closed,
// otherwise as in a file that was cut short.
func (r *Reader) resume(d *Damage) error {
	f := &r.records
	next, err := f.find(d.Offset + 1)
	if err != nil {
		return r.end(err)
	}
	r.unread = nil
	if next < 0 && !f.closed {
		r.cutInFirstChunk = r.read == [len(topics)]uint64{} && len(r.losses) == 0 && f.nextIsCutChunk(d.Offset)
		f.wholeTo = d.Offset
		return r.end(io.EOF)
	}
	to := next
	if next < 0 {
		to = f.size
	}
	r.addLoss(Loss{Offset: d.Offset, Bytes: to - d.Offset, Reason: d.Reason})
	if next < 0 {
		return r.end(io.EOF)
	}
	f.resume(next)
	return nil
}

// unreliable returns why no frame of a damaged file is reliable, "" where they are.
func (r *Reader) unreliable() string {
	switch {
	case r.records.unguarded:
		return "its frames have no checksums of their own"
	case r.disordered:
		return "its frames are not in order"
	}
	return ""
}

// endUnlike ends the reading of a file in which every record is complete but the checksum
// of all bytes does not match.
func (r *Reader) endUnlike() error {
	const unlike = "the checksum of the whole file does not match"
	f := &r.records
	switch {
	case r.unreliable() != "":
		return r.end(&Damage{f.wholeTo, unlike + ", and " + r.unreliable()})
	case r.summary.guarded && !slices.Equal(r.read[leftChannel:], r.summary.messages[leftChannel:]):
		return r.end(&Damage{f.wholeTo, unlike + ", and there are other frames than were written"})
	case !r.described:
		return r.end(&Damage{f.wholeTo, unlike + ", though those of the frames do: the description may not be as it was written"})
	}
	r.losses = append(r.losses, Loss{Offset: f.wholeTo, Reason: unlike + ", though those of its description and of all frames do", NoMessage: true, closed: true})
	return r.end(io.EOF)
}

// addLoss notes a loss.
func (r *Reader) addLoss(l Loss) {
	inIt := func(chunk int64) bool { return chunk >= l.Offset && chunk < l.Offset+l.Bytes }
	if s := &r.summary; s.guarded && len(s.chunks) > 0 && !slices.ContainsFunc(s.chunks, inIt) {
		l.NoMessage, l.closed = true, true
	} else {
		l.FromNS = int64(r.latestNS)
		if l.FromNS == 0 && s.guarded {
			l.FromNS = int64(s.startNS)
		}
		r.afterLoss = [2]bool{true, true}
	}
	r.losses = append(r.losses, l)
}

// closeLosses ends the losses before a message with that log time, and adds the resulting
// gap.
func (r *Reader) closeLosses(loggedNS uint64) {
	for i := len(r.losses) - 1; i >= 0 && !r.losses[i].closed; i-- {
		l := &r.losses[i]
		if l.FromNS == 0 {
			l.FromNS = int64(loggedNS)
		}
		l.ToNS, l.closed = max(l.FromNS, int64(loggedNS)), true
		r.events = append(r.events, device.Event{
			TimeNS: l.ToNS, Foot: device.NoFoot, Kind: device.Gap, Cause: Damaged, LengthS: float64(l.ToNS-l.FromNS) / 1e9,
		})
	}
}

// incomplete reports whether frames or events are lost: to damage, or at the end of a file
// that was cut short after it was finished.
func (r *Reader) incomplete() bool {
	return !r.records.closed && r.records.chunked || slices.ContainsFunc(r.losses, func(l Loss) bool { return !l.NoMessage })
}

// Damaged describes the losses due to damage, "" where nothing is damaged. It is complete
// once Next has returned io.EOF.
func (r *Reader) Damaged() string {
	if len(r.losses) == 0 {
		return ""
	}
	var b strings.Builder
	first := r.losses[0]
	fmt.Fprintf(&b, "damaged at byte %d (%s)", first.Offset, first.Reason)
	if n := len(r.losses); n > 1 {
		fmt.Fprintf(&b, " and in %d more places", n-1)
	}
	if !slices.ContainsFunc(r.losses, func(l Loss) bool { return !l.NoMessage }) {
		b.WriteString("; every frame and event is there")
	} else {
		fmt.Fprintf(&b, "; lost: %s; %s", strings.Join(r.lostSpans(), ", "), r.lostMessages())
	}
	if !r.described {
		b.WriteString("; the description has no checksum: see that strip and shoe are the right ones")
	}
	return b.String()
}

// lostSpans returns begin and end of the first few losses, s since the first frame.
func (r *Reader) lostSpans() (spans []string) {
	const most = 3
	for _, l := range r.losses {
		if l.NoMessage {
			continue
		}
		if len(spans) == most {
			return append(spans, "and so on")
		}
		from, to := float64(l.FromNS-r.firstNS)/1e9, float64(l.ToNS-r.firstNS)/1e9
		if l.ToNS <= r.firstNS {
			spans = append(spans, fmt.Sprintf("the first %.1f s", to-from))
		} else {
			spans = append(spans, fmt.Sprintf("from %.1f to %.1f s", from, to))
		}
	}
	return spans
}

// lostMessages returns how many frames and events are lost, in words.
func (r *Reader) lostMessages() string {
	if !r.summary.guarded {
		return "how many frames and events are missing is not known"
	}
	var lost [len(topics)]uint64
	for channel, n := range r.summary.messages {
		lost[channel] = n - min(n, r.read[channel])
	}
	said := fmt.Sprintf("%d left and %d right frames are missing", lost[channelOf(r.foot(device.Left))], lost[channelOf(r.foot(device.Right))])
	if n := lost[eventsChannel]; n > 0 {
		said += fmt.Sprintf(", and %d of its marks and notes (discarded relevés, pad presses, gaps)", n)
	}
	return said
}

// nextIsCutChunk reports whether the record at byte at is a chunk that extends beyond the
// end of the file.
func (f *recordReader) nextIsCutChunk(at int64) bool {
	var op [1]byte
	_, err := f.file.ReadAt(op[:], at)
	return (err == nil || errors.Is(err, io.EOF)) && mcap.OpCode(op[0]) == mcap.OpChunk
}
