package analyze

import (
	"context"
	"fmt"

	"aplomb/analyze/cells"
	"aplomb/analyze/hold"
	"aplomb/analyze/trace"
	"aplomb/device"
	"aplomb/device/recording"
	"aplomb/device/wire"
)

// recorded is a recording after its frames have been read.
type recorded struct {
	path         string
	meta         device.Metadata
	events       []device.Event
	missing      string              // what the file lacks; "" where it is whole
	instruments  [2]*hold.Instrument // nil for a foot without a strip
	logs         [2]*trace.Log       // nil for a foot without frames
	startsLoaded [2]bool             // the frames began under load by the baseline of an earlier reading
}

// read reads the frames of the recording at path and follows them, foot by foot.
//
// It reads the frames again where all of them together show that the first time
// was not good enough:
//
//   - Cells turn out to be dead or stuck. Then load and its place are taken from
//     the other cells.
//   - The baseline with which the frames were read turns out to be off: it moved
//     by more than 5 N over a load, began above 100 N, or came to light only after
//     the first load of a strip whose curve is not a line (trace.Log.Revised).
//
// Each reason comes up once for a cell or a foot, so the reading ends.
func read(ctx context.Context, path string) (*recorded, error) {
	src, err := recording.Open(path)
	if err != nil {
		return nil, err
	}
	defer func() { src.Close() }()
	r := &recorded{path: path, meta: src.Meta()}
	for f, side := range r.meta.Sides {
		if side != nil {
			r.instruments[f] = hold.New(side)
		}
	}
	strips := r.strips(src)
	for {
		again, err := r.follow(ctx, src, strips)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
		if !again {
			break
		}
		next, err := recording.Open(path)
		if err != nil {
			return nil, err
		}
		src.Close()
		src = next
	}
	if r.logs[device.Left] == nil && r.logs[device.Right] == nil {
		return nil, fmt.Errorf("%s: no frame in it: nothing to analyze; record again", path)
	}
	r.events, r.missing = src.Events(), src.Missing()
	return r, nil
}

// strips lists what package trace needs of each foot.
func (r *recorded) strips(src *recording.Reader) (strips [2]*trace.Strip) {
	for f, in := range r.instruments {
		if in == nil {
			continue
		}
		strips[f] = &trace.Strip{
			Grid:        in.Grid,
			Curve:       in.Curve,
			SaturatesAt: in.Strip.SaturatesAt,
			SizeHint:    src.Count(device.Foot(f)),
			Zero:        in.Strip.Calibration.ZeroCounts,
		}
		if side := r.meta.Sides[f]; side.Clock == "strip" { // otherwise arrival is the only time there is
			strips[f].Sending = wire.Sending{Format: wire.ParseFormat(side.Format), Baud: side.Baud}
		}
	}
	return strips
}

// follow reads the frames of src once. again is true where they have to be read
// again; strips then say how.
func (r *recorded) follow(ctx context.Context, src device.Source, strips [2]*trace.Strip) (again bool, err error) {
	ahead := device.ReadAhead(src)
	defer ahead.Close()
	watched := watch(ctx, ahead, r.instruments)
	logs, err := trace.Run(watched, strips)
	if err != nil {
		return false, err
	}
	for f, l := range logs {
		if l == nil {
			continue
		}
		if r.instruments[f].Lose(watched.cells[f]) {
			strips[f].Grid = r.instruments[f].Grid
			again = true
		}
		l.StartsLoaded = l.StartsLoaded || r.startsLoaded[f]
		if l.Revised != nil {
			r.startsLoaded[f] = l.StartsLoaded
			strips[f].Revised = l.Revised
			again = true
		}
	}
	r.logs = logs
	return again, nil
}

// watching is a Source that also shows its frames to the watch over the cells.
type watching struct {
	device.Source
	ctx   context.Context
	cells [2]*cells.Watch // nil for a foot without a strip
	next  [2]uint64       // strip's clock, µs: earlier frames are not shown
}

// watchUS is the least time between two frames that the watch over the cells is
// shown, µs. Thirty frames a second show a cell that does not respond, at
// whatever rate the frames come, and cost little.
const watchUS = 1_000_000 / 30

func watch(ctx context.Context, src device.Source, instruments [2]*hold.Instrument) *watching {
	w := &watching{Source: src, ctx: ctx}
	for f, in := range instruments {
		if in != nil {
			w.cells[f] = cells.New(in.Strip, in.Grid.Outline)
		}
	}
	return w
}

// Next implements device.Source.
func (w *watching) Next(f *device.Frame) error {
	if err := w.Source.Next(f); err != nil {
		return err
	}
	i := int(f.Foot)
	if i >= len(w.cells) {
		return nil
	}
	if w.cells[i] != nil && f.TimeUS-w.next[i] < 1<<63 {
		w.cells[i].Add(f)
		w.next[i] = f.TimeUS + watchUS
		return w.ctx.Err()
	}
	if f.Restarted {
		w.next[i] = 0 // the strip's clock has started again
	}
	return nil
}
