package intake

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
	"aplomb/device/recording"
	"aplomb/device/wire"
)

// ParseStart parses the time at which something was recorded. A time without a zone
// is in that of now, and "" is now.
func ParseStart(typed string, now time.Time) (time.Time, error) {
	if typed == "" {
		return now, nil
	}
	for _, layout := range []string{"2006-01-02T15:04", time.DateTime, "2006-01-02 15:04", "2006-01-02T15:04:05", time.RFC3339, "2006-01-02T15:04Z07:00"} {
		t, err := time.ParseInLocation(layout, typed, now.Location())
		if err != nil {
			continue
		}
		if u, _ := time.Parse(layout, typed); u.Hour() != t.Hour() || u.Minute() != t.Minute() {
			return t, usage.Errorf("--started %s does not exist: the clocks were put forward then; write it with its offset, as in 2026-03-14T10:00+01:00", typed)
		}
		if t.After(now) {
			return t, usage.Errorf("--started %s lies in the future", typed)
		}
		if t.Unix() < 0 { // a frame cannot have arrived before
			return t, usage.Errorf("--started %s lies before 1970: is the year right?", typed)
		}
		return t, nil
	}
	return now, usage.Errorf("--started %.40q: write it as 2026-03-14T10:00", typed)
}

// IsRecording reports whether a file name has the ending of a recording.
func IsRecording(typed string) bool {
	return strings.HasSuffix(typed, ".mcap") || strings.HasSuffix(typed, ".mcap.part")
}

// CheckFrames returns an error for a recording without a frame, such as one that
// was cut short at its beginning: nothing can be measured in it.
func CheckFrames(ctx context.Context, path string) error {
	r, err := recording.Open(ctx, path)
	if err != nil {
		return err
	}
	defer r.Close()
	var f device.Frame
	if err := r.Next(&f); errors.Is(err, io.EOF) {
		if why := cmp.Or(r.Damaged(), r.Missing()); why != "" {
			return fmt.Errorf("%s: no frame of it can be read: %s", path, why)
		}
		return fmt.Errorf("%s: no frame in it: there is nothing to take in", path)
	}
	return nil // other damage leaves frames to measure
}

// Assign finds the CSV file of each foot that has a strip in m, and sets the format in m.
// A single file in args belongs to the foot of the only strip.
func Assign(csv *[2]string, args []string, m *device.Metadata) error {
	named := csv[device.Left] != "" || csv[device.Right] != ""
	switch {
	case len(args) > 1 || (len(args) == 1 && named):
		return usage.Errorf("name one CSV file, or one each with --left and --right")
	case len(args) == 0 && !named:
		return usage.Errorf("name a CSV file, or one each with --left and --right")
	case len(args) == 1:
		if m.Sides[device.Left] != nil && m.Sides[device.Right] != nil {
			return usage.Errorf("two strips and one CSV file: name its foot with --left or --right, and the other's too")
		}
		f := device.Left
		if m.Sides[device.Left] == nil {
			f = device.Right
		}
		csv[f] = args[0]
	}
	for _, f := range device.Feet {
		if csv[f] != "" && m.Sides[f] == nil {
			return usage.Errorf("--%s %s: no --strip for the %s foot", f, csv[f], f)
		}
	}
	for _, f := range device.Feet {
		if m.Sides[f] == nil {
			continue
		}
		if csv[f] == "" {
			return usage.Errorf("strip %s is for the %s foot, but there is no --%s FILE.csv", m.Sides[f].Strip.Name, f, f)
		}
		m.Sides[f].Format = "csv"
	}
	return nil
}

// ErrStopped means that a signal ended an import, whose file was finished.
var ErrStopped = errors.New("stopped before the end of the CSV")

// ImportCSV makes a recording from the frames of the CSV files of both feet, with their
// pad presses, and returns the number of frames. When ctx is done it finishes the file
// with the frames read until then, if any, and returns ErrStopped. Any other error leaves
// no file.
func ImportCSV(ctx context.Context, csv [2]string, m device.Metadata, presses []Press, out string, progress *console.Progress) (frames int, err error) {
	var src device.Source
	for _, f := range device.Feet {
		if csv[f] == "" {
			continue
		}
		file, err := wire.OpenCSV(ctx, csv[f], m.Sides[f].Strip, m.Started.UnixNano())
		if err != nil {
			return 0, err
		}
		defer file.Close()
		if src == nil {
			src = file
		} else {
			src = device.Merge(src, file)
		}
	}
	w, err := recording.CreateDirect(out, m)
	if err != nil {
		return 0, err
	}
	ahead := device.ReadAhead(src)
	defer ahead.Close()
	defer progress.Clear()
	var frame device.Frame
	marks := &pressMarks{waiting: slices.Clone(presses)}
	for {
		var err error
		if frames%10_000 == 0 {
			err = ctx.Err()
			progress.Show("importing: %d frames", frames)
		}
		if err == nil {
			err = ahead.Next(&frame)
		}
		if err == nil {
			err = w.Write(&frame)
		}
		if err == nil {
			for _, e := range marks.after(&frame) {
				err = cmp.Or(err, w.WriteEvent(e))
			}
		}
		switch {
		case err == nil:
			frames++
		case errors.Is(err, io.EOF):
			if err := marks.finish(); err != nil {
				w.Discard()
				return 0, err
			}
			return frames, w.Close()
		case errors.Is(err, context.Canceled) && frames > 0:
			return frames, cmp.Or(w.Close(), ErrStopped)
		default:
			w.Discard()
			return 0, err
		}
	}
}
