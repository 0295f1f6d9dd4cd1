package recording

import (
	"fmt"
	"io"

	"github.com/foxglove/mcap/go/mcap"

	"aplomb/device"
	"aplomb/device/lock"
)

// A chunk ends with the message that makes it chunkSize bytes, before compression, or
// with the first that is chunkSpanNS later than its first one. A chunk whose checksum
// does not match is lost, and with it that much of the recording.
const (
	chunkSize   = 1 << 20
	chunkSpanNS = 1_000_000_000
)

// messageWriter writes the messages of a recording into one MCAP file.
type messageWriter struct {
	out      *mcap.Writer
	options  *mcap.WriterOptions // of out, which reads them again for every message
	chunkNS  uint64              // log time of the first message of the chunk; 0 where it has none
	chunks   uint32              // that out has closed when chunkNS was set
	sealed   bool                // every message ends in a seal
	cells    [2]int              // by foot; 0 for a foot without a strip
	sequence [len(topics)]uint32
	message  mcap.Message // reused
	latest   uint64       // log time, ns
}

// newMessageWriter writes the beginning of a file to w: header, metadata, schemas
// and channels. Without chunks every message is sealed.
func newMessageWriter(w io.Writer, m device.Metadata, chunked bool) (*messageWriter, error) {
	options := &mcap.WriterOptions{
		IncludeCRC:       chunked,
		Chunked:          chunked,
		ChunkSize:        chunkSize,
		Compression:      mcap.CompressionZSTD,
		CompressionLevel: mcap.CompressionLevelFastest,
	}
	out, err := mcap.NewWriter(w, options)
	if err != nil {
		return nil, err
	}
	l := &messageWriter{out: out, options: options, sealed: !chunked}
	if err := out.WriteHeader(&mcap.Header{Profile: profile}); err != nil {
		return nil, err
	}
	records := metadataRecords(m)
	if !chunked {
		records = append(records, writerMetadata(lock.Self()))
	}
	for _, r := range records {
		if err := out.WriteMetadata(r); err != nil {
			return nil, err
		}
	}
	all, err := schemas()
	if err != nil {
		return nil, err
	}
	for _, s := range all {
		if err := out.WriteSchema(s); err != nil {
			return nil, err
		}
	}
	for _, c := range channels(m) {
		if err := out.WriteChannel(c); err != nil {
			return nil, err
		}
	}
	for _, foot := range device.Feet {
		if s := m.Sides[foot]; s != nil {
			l.cells[foot] = s.Strip.Cells()
		}
	}
	return l, nil
}

// check reports why f cannot be part of this recording.
func (l *messageWriter) check(f *device.Frame) error {
	switch {
	case f.Foot > device.Right:
		return fmt.Errorf("a frame of no foot (%d)", f.Foot)
	case l.cells[f.Foot] == 0:
		return fmt.Errorf("a frame of the %s foot, for which there is no strip", f.Foot)
	case len(f.Counts) != l.cells[f.Foot]:
		return fmt.Errorf("a frame of %d cells from the %s strip, which has %d", len(f.Counts), f.Foot, l.cells[f.Foot])
	case f.ArrivalNS < 0:
		return fmt.Errorf("a frame that arrived before 1970 (%d ns)", f.ArrivalNS)
	case f.Seq < 0 && f.Seq != device.NoSeq:
		return fmt.Errorf("a frame with the number %d", f.Seq)
	}
	return nil
}

// frame writes a frame.
func (l *messageWriter) frame(f *device.Frame) error {
	m := &l.message
	m.ChannelID, m.LogTime, m.PublishTime = channelOf(f.Foot), uint64(f.ArrivalNS), uint64(f.ArrivalNS)
	m.Data = appendFrame(m.Data[:0], f)
	return l.write()
}

// event writes an event. Its log time is at least that of all messages before it,
// so that the file stays in order of log time although some events become known
// late, such as a gap, which shows only when it is over.
func (l *messageWriter) event(e *device.Event) error {
	m := &l.message
	m.ChannelID, m.LogTime, m.PublishTime = eventsChannel, max(l.latest, uint64(e.TimeNS)), uint64(e.TimeNS)
	m.Data = appendEvent(m.Data[:0], e)
	return l.write()
}

// copy writes a message of another file with its times.
func (l *messageWriter) copy(from *message) error {
	m := &l.message
	m.ChannelID, m.LogTime, m.PublishTime = from.channel, from.logged, from.published
	m.Data = append(m.Data[:0], from.data...)
	return l.write()
}

// write writes l.message with the next sequence number of its channel.
func (l *messageWriter) write() error {
	m := &l.message
	m.Sequence = l.sequence[m.ChannelID]
	l.sequence[m.ChannelID]++
	l.latest = max(l.latest, m.LogTime)
	if l.sealed {
		seal(m)
		return l.out.WriteMessage(m)
	}
	if chunks := l.out.Statistics.ChunkCount; l.chunkNS == 0 || chunks != l.chunks {
		l.chunkNS, l.chunks = m.LogTime, chunks
	}
	l.options.ChunkSize = chunkSize
	if m.LogTime >= l.chunkNS+chunkSpanNS {
		l.options.ChunkSize = 1 // out closes the chunk after this message
	}
	return l.out.WriteMessage(m)
}

// written returns the number of messages written so far.
func (l *messageWriter) written() uint64 { return l.out.Statistics.MessageCount }

// close ends the file with its summary and footer.
func (l *messageWriter) close() error { return l.out.Close() }
