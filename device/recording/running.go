package recording

import (
	"context"
	"strconv"
	"time"

	"github.com/foxglove/mcap/go/mcap"

	"aplomb/device/lock"
)

// WrittenBy returns the process that is writing the recording at path, a .part or a
// finished file that is still being made; nil where there is none. The PID is 0 where the
// file does not identify the process.
func WrittenBy(path string) *lock.Holder {
	if !lock.Held(path) {
		return nil
	}
	r, err := Open(context.Background(), path)
	if err != nil {
		return &lock.Holder{} // it has only just begun
	}
	defer r.Close()
	return &r.writer
}

// writerMetadata returns the metadata record that says which process writes the file.
func writerMetadata(h lock.Holder) *mcap.Metadata {
	return &mcap.Metadata{Name: writerRecord, Metadata: map[string]string{
		"process":         strconv.Itoa(h.PID),
		"program_started": h.Started.UTC().Format(time.RFC3339Nano),
		"since":           h.Since.UTC().Format(time.RFC3339Nano),
	}}
}

// parseWriter reads what writerMetadata wrote, and returns the zero Holder of
// anything else.
func parseWriter(record map[string]string) lock.Holder {
	pid, err := strconv.Atoi(record["process"])
	if err != nil {
		return lock.Holder{}
	}
	h := lock.Holder{PID: pid}
	if h.Started, err = time.Parse(time.RFC3339Nano, record["program_started"]); err != nil {
		return lock.Holder{}
	}
	if h.Since, err = time.Parse(time.RFC3339Nano, record["since"]); err != nil {
		return lock.Holder{}
	}
	return h
}
