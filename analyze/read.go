package analyze

import (
	"cmp"
	"context"
	"fmt"
	"path/filepath"

	"aplomb/analyze/cells"
	"aplomb/analyze/hold"
	"aplomb/analyze/measure"
	"aplomb/analyze/trace"
	"aplomb/device"
	"aplomb/device/recording"
	"aplomb/device/wire"
)

// recorded is a recording after its frames have been read. The fields at the end are set
// later, by prepare.
type recorded struct {
	id          string                // of the recording, see package recording
	file        string                // base name
	meta        device.Metadata       // with the correction
	correction  *recording.Correction // nil where there is none
	corrected   string                // what the correction changes, in one line; "" for nothing
	events      []device.Event
	missing     string              // what the file lacks; "" where it is whole
	damaged     string              // what damage of the file has cost; "" where nothing is damaged
	instruments [2]*hold.Instrument // nil for a foot without a strip
	logs        [2]*trace.Log       // nil for a foot without frames
	// unrevised holds the samples of the last reading in which the zeros were only
	// tracked while the strip was unloaded. Revised zeros would treat a load that moves
	// slowly from cell to cell, such as a pad press, as drift.
	unrevised [2][]measure.Sample

	paired  *pairedPulses
	holds   [2][]*hold.Hold // by pulse; nil where it never settled or has no centre of pressure
	presses [2][]measure.Press
	seats   [2]*measure.Seat // nil for a foot without frames
}

// read reads the frames of the recording at path, and traces each foot.
//
// It reads the frames again where the whole recording shows that the earlier reading was
// wrong:
//
//   - Cells turn out to be dead or stuck. Load and centre of pressure are then
//     computed from the other cells.
//   - The baseline used turns out to be wrong: it moved by more than 5 N during a
//     load, began above 100 N, or was found only after the first load of a strip
//     whose curve is not linear (trace.Log.Revised).
//
// Each reason occurs at most once for a cell or a foot, so that the number of readings is
// bounded.
func read(ctx context.Context, path string) (*recorded, error) {
	r := &recorded{file: filepath.Base(path)}
	var strips [2]*trace.Strip
	for again := true; again; {
		src, err := recording.Open(ctx, path)
		if err != nil {
			return nil, err
		}
		if strips == [2]*trace.Strip{} {
			r.meta = src.Meta()
			if r.correction = src.Correction(); r.correction != nil {
				r.corrected = r.correction.Summary(src.Recorded())
			}
			strips = r.newInstruments()
		}
		for _, f := range device.Feet {
			if strips[f] != nil {
				strips[f].SizeHint = src.Count(f)
			}
		}
		ahead := device.ReadAhead(src)
		watch := r.watchCells()
		logs, err := trace.Run(ctx, ahead, strips, watch.add)
		ahead.Close()
		r.id, r.events, r.missing, r.damaged = src.ID(), src.Events(), src.Missing(), src.Damaged()
		src.Close()
		if err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
		again = r.keepLogs(logs, strips, watch)
	}
	if r.logs[device.Left] == nil && r.logs[device.Right] == nil {
		if r.missing != "" || r.damaged != "" {
			return nil, fmt.Errorf("%s: no frame of it can be read: %s", path, cmp.Or(r.damaged, r.missing))
		}
		return nil, fmt.Errorf("%s: no frame in it: nothing to analyze; record again", path)
	}
	return r, nil
}

// newInstruments sets the instrument of each foot in r, and returns the strips in the
// form that package trace takes.
func (r *recorded) newInstruments() (strips [2]*trace.Strip) {
	for f, side := range r.meta.Sides {
		if side == nil {
			continue
		}
		in := hold.New(side)
		r.instruments[f] = in
		strips[f] = &trace.Strip{
			Grid: in.Grid, Curve: in.Curve, SaturatesAt: in.Strip.SaturatesAt, MaxCount: in.Strip.MaxCount(), Zero: in.Strip.Calibration.ZeroCounts,
		}
		if side.Clock == "strip" { // otherwise only the time of arrival is known
			strips[f].Sending = wire.Transmission{Format: wire.ParseFormat(side.Format), Baud: side.Baud}
		}
	}
	return strips
}

// keepLogs stores the logs of one reading of the frames. It returns whether the frames
// must be read again; it then sets in strips the grid or the zeros for that reading.
func (r *recorded) keepLogs(logs [2]*trace.Log, strips [2]*trace.Strip, watch *cellWatch) (again bool) {
	for f, l := range logs {
		if l == nil {
			continue
		}
		if strips[f].Revised == nil {
			r.unrevised[f] = l.Samples
		}
		if r.instruments[f].Lose(watch.cells[f]) {
			strips[f].Grid = r.instruments[f].Grid
			again = true
		}
		if before := r.logs[f]; before != nil && strips[f].Revised != nil {
			l.StartsLoaded = l.StartsLoaded || before.StartsLoaded
		}
		if l.Revised != nil {
			strips[f].Revised = l.Revised
			again = true
		}
	}
	r.logs = logs
	return again
}

// cellWatch passes frames to the cell monitor of each foot.
type cellWatch struct {
	cells [2]*cells.Monitor // nil for a foot without a strip
	next  [2]uint64         // strip's clock, µs: earlier frames are not passed on
}

// watchUS is the shortest interval between frames that the cell monitor gets, µs. Thirty
// frames a second are enough to detect a cell that does not respond, whatever the strip's
// rate, and take little time.
const watchUS = 1_000_000 / 30

func (r *recorded) watchCells() *cellWatch {
	w := &cellWatch{}
	for f, in := range r.instruments {
		if in != nil {
			w.cells[f] = cells.New(in.Strip, in.Grid.Outline)
		}
	}
	return w
}

// add passes a frame of a foot that has a strip to the monitor.
func (w *cellWatch) add(f *device.Frame) {
	i := f.Foot
	if f.TimeUS-w.next[i] < 1<<63 {
		w.cells[i].Add(f)
		w.next[i] = f.TimeUS + watchUS
	} else if f.Restarted {
		w.next[i] = 0 // the strip's clock has restarted
	}
}
