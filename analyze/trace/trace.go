package trace

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"

	"aplomb/analyze/baseline"
	"aplomb/analyze/field"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/clock"
	"aplomb/device/wire"
)

// Strip describes the strip under one foot for a trace.
type Strip struct {
	Grid        *field.Grid
	Curve       *device.Curve
	SaturatesAt int // counts
	MaxCount    int // the largest count of the converter; 0 where it is not known
	SizeHint    int // expected number of frames, 0 where unknown
	Sending     wire.Transmission

	// Zero is the reading of each cell without load, counts, until the strip has been
	// unloaded; nil is 0.
	Zero []float64
	// Revised holds the zeros of Log.Revised from an earlier run over the same frames.
	// The trace then interpolates these and does not track the zero.
	Revised []baseline.Zero
}

// Log is the trace of one foot's frames.
type Log struct {
	Samples []measure.Sample // in order of time
	Frames  int
	Lost    int64 // frames missing by number; -1 where the format does not number them
	Beyond  int   // frames with a count above Strip.MaxCount
	Clock   Clock
	StartNS float64         // the host's time of the recording's first frame, ns since 1970
	Zeros   []baseline.Zero // that were in force, by time
	Noise   []float64       // standard deviation of each unloaded cell, counts

	// Unloaded reports that the strip was unloaded at some time; otherwise the zero is
	// that of Strip. StartsLoaded reports that the strip was loaded when the recording
	// began, so that its first zero was found later.
	StartsLoaded, Unloaded bool

	// Revised is not nil where the zeros in force were not good enough: they were off by
	// more than 5 N given all frames, or the first of them was found too late for a curve
	// that is not linear. The same frames are then to be run again with these as
	// Strip.Revised. Their times are in s since the foot's first frame, by the strip's
	// own clock.
	Revised []baseline.Zero

	interpolated bool // Zeros are interpolated; otherwise each is in force until the next
	maps         maps
}

// Clock converts a strip's clock to seconds since the recording's first frame.
type Clock struct {
	curve   clock.Mapping
	startNS float64 // the host's time at the recording's first frame
}

// Seconds returns the time of tUS, s since the recording's first frame.
func (c *Clock) Seconds(tUS uint64) float64 { return (c.curve.Host(tUS) - c.startNS) / 1e9 }

// ZeroAt returns the zero in force at t, s: counts in scan order.
func (l *Log) ZeroAt(t float64) []float64 {
	if l.interpolated {
		level := make([]float64, l.maps.cells)
		baseline.Interpolate(level, l.Zeros, t)
		return level
	}
	return l.ZeroBefore(t)
}

// ZeroBefore returns the last zero found before t, s, or the first of all.
func (l *Log) ZeroBefore(t float64) []float64 {
	return l.Zeros[max(0, baseline.After(l.Zeros, t)-1)].Level
}

// ZeroAfter returns the first zero found after t, s, nil where there is none.
func (l *Log) ZeroAfter(t float64) []float64 {
	if i := baseline.After(l.Zeros, t); i < len(l.Zeros) {
		return l.Zeros[i].Level
	}
	return nil
}

// Run reads src to its end and returns the log of each foot, nil for a foot without a
// strip or without frames. Frames of a foot without a strip are an error. Run ends with
// the error of ctx when ctx is done. It calls seen, unless nil, with every frame.
func Run(ctx context.Context, src device.Source, strips [2]*Strip, seen func(*device.Frame)) (logs [2]*Log, err error) {
	var feet [2]*tracer
	var fits [2]clock.Fit
	for f, s := range strips {
		if s != nil {
			feet[f] = newTracer(s, &fits[f], true)
		}
	}
	var frame device.Frame
	for {
		if err := ctx.Err(); err != nil {
			return logs, err
		}
		if err := src.Next(&frame); err != nil {
			if errors.Is(err, io.EOF) {
				break
			}
			return logs, err
		}
		if int(frame.Foot) >= len(feet) || feet[frame.Foot] == nil {
			return logs, fmt.Errorf("a frame of the %s foot, for which there is no strip profile", frame.Foot)
		}
		if err := feet[frame.Foot].add(&frame); err != nil {
			return logs, err
		}
		if seen != nil {
			seen(&frame)
		}
	}
	startNS := math.Inf(1)
	for i, f := range feet {
		if f != nil && f.log.Frames > 0 {
			f.log.Clock.curve = fits[i].Mapping()
			startNS = min(startNS, f.log.Clock.curve.Host(f.firstUS))
		}
	}
	for i, f := range feet {
		if f != nil && f.log.Frames > 0 {
			logs[i] = f.finish(startNS)
		}
	}
	return logs, nil
}

// weight is the contribution of one count above zero (one kPa where the curve is not
// linear) to load and first moments.
type weight struct{ load, medial, over float64 } // N, N·mm, N·mm

// clockFit relates a strip's clock to the host's, from a whole recording or from the
// frames so far.
type clockFit interface {
	Add(tUS uint64, arrivalNS int64)
	Restart()
}

// tracer builds the log of one foot, frame by frame.
type tracer struct {
	log        *Log
	weights    []weight
	curve      *device.Curve
	kPa        []float64 // pressures of the frame being added; nil where the curve is linear
	saturates  uint16
	maxCount   uint16
	sending    wire.Transmission
	clock      clockFit
	zero       *baseline.Tracker
	history    *baseline.History // nil while frames are still arriving, or where their zeros are known
	firstUS    uint64
	lastUS     uint64
	lastSeq    int64
	intervalUS float64 // usual time between two frames
	misread    bool    // the first zero was found too late for the curve
}

// newTracer returns a tracer. whole reports that it will get all frames of a recording.
func newTracer(s *Strip, c clockFit, whole bool) *tracer {
	w, perCount := s.Grid.Weights(), s.Curve.LinearScale()
	t := &tracer{
		log:       &Log{Samples: make([]measure.Sample, 0, s.SizeHint), maps: maps{cells: len(w), curve: s.Curve}},
		weights:   make([]weight, len(w)),
		curve:     s.Curve,
		saturates: uint16(s.SaturatesAt),
		maxCount:  uint16(cmp.Or(s.MaxCount, math.MaxUint16)),
		sending:   s.Sending,
		clock:     c,
		lastSeq:   device.NoSeq,
	}
	nonlinear := (*device.Curve)(nil)
	if perCount == nil {
		t.kPa, nonlinear = make([]float64, len(w)), s.Curve
		perCount = slices.Repeat([]float64{1}, len(w))
	}
	newtons := make([]float64, len(w))
	for k, w := range w {
		t.weights[k] = weight{w.LoadN * perCount[k], w.MedialNMM * perCount[k], w.OverNMM * perCount[k]}
		newtons[k] = t.weights[k].load
	}
	if whole && s.Revised == nil {
		t.history = baseline.NewHistory(newtons, nonlinear, s.Zero)
	}
	t.zero = baseline.NewTracker(len(w), s.Zero, s.Revised, t.history)
	return t
}

// add adds one frame.
func (t *tracer) add(frame *device.Frame) error {
	if len(frame.Counts) != len(t.weights) {
		return fmt.Errorf("frame %d of the %s foot has %d cells, its strip profile %d: the recording is damaged",
			t.log.Frames+1, frame.Foot, len(frame.Counts), len(t.weights))
	}
	if t.log.Frames == 0 {
		t.firstUS, t.lastUS = frame.TimeUS, frame.TimeUS
	}
	t.log.Frames++
	if frame.Restarted {
		t.clock.Restart()
	}
	t.clock.Add(frame.TimeUS, frame.ArrivalNS-t.sending.TimeNS(frame))

	at := t.seconds(frame.TimeUS)
	t.zero.Begin(at)
	load, medial, over, largest := t.sums(frame.Counts)
	s := measure.Sample{T: at, LoadN: float32(load), MedialMM: nan, OverMM: nan}
	if t.gapBefore(frame) || frame.Restarted || frame.AfterLoss {
		s.Flags |= measure.AfterGap
	}
	if largest >= t.saturates {
		s.Flags |= measure.Saturated
	}
	if largest > t.maxCount {
		t.log.Beyond++
	}
	if load >= LoadFloorN {
		s.MedialMM, s.OverMM = float32(medial/load), float32(over/load)
		t.log.maps.add(s.T, frame.Counts, t.kPa)
	}
	t.log.Samples = append(t.log.Samples, s)
	if shift := t.zero.Observe(s.T, frame.Counts, load); shift != nil {
		t.restate(shift)
	}
	return nil
}

// nan stands for an unknown coordinate.
var nan = float32(math.NaN())

// seconds is the time since the foot's first frame by the strip's own clock.
func (t *tracer) seconds(tUS uint64) float64 { return float64(int64(tUS-t.firstUS)) / 1e6 }

// restate corrects the samples so far for a zero that was wrong by shift, counts. Samples
// without a centre of pressure stay without. Where the curve is not linear it corrects
// only the load of unloaded cells, and removes the centre of pressure of every sample.
func (t *tracer) restate(shift []float64) {
	var load, medial, over float64
	if t.kPa != nil {
		t.misread = true
		for k, w := range t.weights {
			load += w.load * t.curve.KPa(k, shift[k])
		}
		for i := range t.log.Samples {
			s := &t.log.Samples[i]
			s.LoadN, s.MedialMM, s.OverMM = s.LoadN-float32(load), nan, nan
		}
		return
	}
	for k, w := range t.weights {
		load += shift[k] * w.load
		medial += shift[k] * w.medial
		over += shift[k] * w.over
	}
	for i := range t.log.Samples {
		s := &t.log.Samples[i]
		before := float64(s.LoadN)
		after := before - load
		s.LoadN = float32(after)
		if after < LoadFloorN {
			s.MedialMM, s.OverMM = nan, nan
			continue
		}
		s.MedialMM = float32((float64(s.MedialMM)*before - medial) / after)
		s.OverMM = float32((float64(s.OverMM)*before - over) / after)
	}
}

// sums returns load and first moments of one frame, N and N·mm, and its largest
// count. Even and odd cells are added up apart: another order of addition would
// change the last digit of results.
func (t *tracer) sums(counts []uint16) (load, medial, over float64, largest uint16) {
	if t.kPa != nil {
		return t.nonlinearSums(counts)
	}
	var even, odd weight
	zero, weights := t.zero.Level()[:len(counts)], t.weights[:len(counts)]
	for k := 1; k < len(counts); k += 2 {
		a, b := counts[k-1], counts[k]
		x, y := float64(a)-zero[k-1], float64(b)-zero[k]
		w, v := &weights[k-1], &weights[k]
		even.load, odd.load = even.load+x*w.load, odd.load+y*v.load
		even.medial, odd.medial = even.medial+x*w.medial, odd.medial+y*v.medial
		even.over, odd.over = even.over+x*w.over, odd.over+y*v.over
		largest = max(largest, a, b)
	}
	if k := len(counts) - 1; k%2 == 0 {
		x, w := float64(counts[k])-zero[k], &weights[k]
		even.load, even.medial, even.over = even.load+x*w.load, even.medial+x*w.medial, even.over+x*w.over
		largest = max(largest, counts[k])
	}
	return even.load + odd.load, even.medial + odd.medial, even.over + odd.over, largest
}

// nonlinearSums is sums for a curve that is not linear. It stores the pressures of the
// frame in t.kPa.
func (t *tracer) nonlinearSums(counts []uint16) (load, medial, over float64, largest uint16) {
	t.curve.Frame(t.kPa, counts, t.zero.Level())
	for k, p := range t.kPa {
		w := &t.weights[k]
		load += p * w.load
		medial += p * w.medial
		over += p * w.over
		largest = max(largest, counts[k])
	}
	return load, medial, over, largest
}

// gapBefore reports whether frames are missing before this one, and counts them
// where frames are numbered. Without numbers a pause of more than three usual
// intervals and more than 20 ms is a gap.
func (t *tracer) gapBefore(frame *device.Frame) bool {
	stepUS := float64(int64(frame.TimeUS - t.lastUS))
	lastSeq := t.lastSeq
	t.lastUS, t.lastSeq = frame.TimeUS, frame.Seq
	if frame.Seq != device.NoSeq {
		if lastSeq != device.NoSeq && frame.Seq > lastSeq+1 {
			t.log.Lost += frame.Seq - lastSeq - 1
			return true
		}
		return false
	}
	t.log.Lost = -1
	if stepUS <= 0 {
		return false
	}
	if t.intervalUS == 0 {
		t.intervalUS = stepUS
	}
	gap := stepUS > max(3*t.intervalUS, 20_000)
	// A gap counts as at most three intervals, so that it does not become the usual one;
	// it does count, because a strip that has become slow would otherwise show only gaps.
	t.intervalUS += 0.05 * (min(stepUS, 3*t.intervalUS) - t.intervalUS)
	return gap
}

// finish completes the log and converts it to the recording's time, which begins at
// startNS.
func (t *tracer) finish(startNS float64) *Log {
	l := t.log
	if shift := t.zero.Finish(t.seconds(t.lastUS)); shift != nil {
		t.restate(shift)
	}
	l.Zeros, l.interpolated = t.zero.Zeros()
	l.Noise = t.zero.Noise()
	found, late := t.zero.Found()
	l.Unloaded, l.StartsLoaded = found, late || !found
	t.revise()
	l.StartNS = startNS
	l.Clock.startNS = startNS
	offset := (float64(l.Clock.curve.FirstNS()) - startNS) / 1e9
	hostS := l.Clock.curve.Converter()
	put := func(at *float64) { *at = offset + hostS(*at) }
	last := math.Inf(-1)
	for i := range l.Samples {
		s := &l.Samples[i]
		put(&s.T)
		s.T = max(s.T, last) // time does not go back where a strip has restarted
		last = s.T
	}
	for i := range l.Zeros {
		put(&l.Zeros[i].T)
	}
	for i := range l.maps.spans {
		put(&l.maps.spans[i].from)
		put(&l.maps.spans[i].to)
	}
	return l
}

// revise looks for better zeros with all frames known.
func (t *tracer) revise() {
	if t.history == nil {
		return
	}
	l, r := t.log, t.history.Revise()
	switch {
	case r.Zeros != nil && (t.misread || r.FarFromUse):
		l.Revised, l.Unloaded, l.StartsLoaded = r.Zeros, true, !r.FromStart
	case t.misread:
		l.Revised = []baseline.Zero{{T: 0, Level: slices.Clone(l.Zeros[0].Level)}}
	}
	t.history = nil
}
