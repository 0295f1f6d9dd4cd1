package trace

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"

	"aplomb/analyze/field"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/clock"
	"aplomb/device/wire"
)

// Strip is what a trace needs to know of the strip under one foot.
type Strip struct {
	Grid        *field.Grid
	Curve       *device.Curve
	SaturatesAt int // counts
	SizeHint    int // expected frames, 0 where unknown
	Sending     wire.Sending

	// Zero is what each cell is taken to read unloaded until it has been seen
	// unloaded, counts; nil is 0.
	Zero []float64
	// Track is what Log.Again was in an earlier run over the same frames: the
	// zeros are those, with straight lines between them, and none is looked for.
	Track []Zero
}

// Log is what one foot's frames leave behind.
type Log struct {
	Samples []measure.Sample // in order of time
	Frames  int
	Lost    int64 // frames missing by number; -1 where the format does not number them
	Clock   Clock
	StartNS float64   // the host's time of the recording's first frame, ns since 1970
	Zeros   []Zero    // by time
	Noise   []float64 // standard deviation of each unloaded cell, counts
	// StartsLoaded says that the strip was not unloaded when the recording
	// began, so that its first zero comes from later; Unloaded that it ever was.
	// Where it never was, the zero is that of Strip.
	StartsLoaded, Unloaded bool
	// Again is not nil where all frames together say that the zeros with which
	// they were read are not good enough, by more than 5 N, or that the first of
	// them came too late for a curve that is not a line: run the same frames again
	// with this as the Track of the strip. Its times are those of the strip's own
	// clock, s since the foot's first frame.
	Again []Zero

	straight bool // between Zeros are straight lines; else each holds until the next
	maps     maps
}

// Clock maps a strip's clock to seconds since the recording's first frame.
type Clock struct {
	curve   clock.Curve
	startNS float64 // the host's time at the recording's first frame
}

// Seconds returns the time of tUS, s since the recording's first frame.
func (c *Clock) Seconds(tUS uint64) float64 { return (c.curve.Host(tUS) - c.startNS) / 1e9 }

// ZeroAt returns the zero in force at t.
func (l *Log) ZeroAt(t float64) []float64 {
	if l.straight {
		level := make([]float64, l.maps.cells)
		between(level, l.Zeros, t)
		return level
	}
	return l.Zeros[max(0, after(l.Zeros, t)-1)].Level
}

// after returns which is the first of zeros after t.
func after(zeros []Zero, t float64) int {
	i, _ := slices.BinarySearchFunc(zeros, t, func(z Zero, t float64) int {
		if z.T <= t {
			return -1
		}
		return 1
	})
	return i
}

// ZeroAfter returns the first zero found after t, nil where there is none.
func (l *Log) ZeroAfter(t float64) []float64 {
	if i := after(l.Zeros, t); i < len(l.Zeros) {
		return l.Zeros[i].Level
	}
	return nil
}

// Run reads src to its end and returns the log of each foot, nil for a foot
// without a strip or without frames. Frames of a foot without a strip are an error.
func Run(src device.Source, strips [2]*Strip) (logs [2]*Log, err error) {
	var feet [2]*foot
	var fits [2]clock.Fit
	for f, s := range strips {
		if s != nil {
			feet[f] = newFoot(s, &fits[f])
			feet[f].remember(s.Zero)
		}
	}
	var frame device.Frame
	for {
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
	}
	startNS := math.Inf(1)
	for i, f := range feet {
		if f != nil && f.log.Frames > 0 {
			f.log.Clock.curve = fits[i].Curve()
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

// weight is what one count above zero, or where the curve is not a line one kPa,
// adds to load and first moments.
type weight struct{ load, medial, over float64 } // N, N·mm, N·mm

// fit is how a strip's clock becomes known: for a recording that is there, or
// while the frames come.
type fit interface {
	Add(tUS uint64, arrivalNS int64)
	Restart()
}

// foot gathers the log of one foot.
type foot struct {
	log        *Log
	weights    []weight
	curve      *device.Curve
	kPa        []float64 // of the frame being added; nil where the curve is a line
	saturates  uint16
	sending    wire.Sending
	fit        fit
	zero       *zeroer
	firstUS    uint64
	lastUS     uint64
	lastSeq    int64
	intervalUS float64 // usual distance of two frames
	misread    bool    // the first zero came too late for the curve
}

func newFoot(s *Strip, c fit) *foot {
	w, perCount := s.Grid.Weights(), s.Curve.Line()
	f := &foot{
		log:       &Log{Samples: make([]measure.Sample, 0, s.SizeHint), maps: maps{cells: len(w), curve: s.Curve}},
		weights:   make([]weight, len(w)),
		curve:     s.Curve,
		saturates: uint16(s.SaturatesAt),
		sending:   s.Sending,
		fit:       c,
		zero:      newZeroer(len(w), s.Zero, s.Track),
		lastSeq:   device.NoSeq,
	}
	if perCount == nil {
		f.kPa = make([]float64, len(w))
		perCount = slices.Repeat([]float64{1}, len(w))
	}
	for k, w := range w {
		f.weights[k] = weight{w.LoadN * perCount[k], w.MedialNMM * perCount[k], w.OverNMM * perCount[k]}
	}
	return f
}

// remember keeps what the zeros are to be told from when all frames are there,
// unless they are known; zero is what the strip begins with.
func (f *foot) remember(zero []float64) {
	if f.zero.track != nil {
		return
	}
	p := &past{weights: f.weights, began: make([]float32, len(f.weights))}
	if f.kPa != nil {
		p.curve = f.curve
	}
	for k, z := range zero {
		p.began[k] = float32(z)
	}
	f.zero.past = p
}

// add takes one frame.
func (f *foot) add(frame *device.Frame) error {
	if len(frame.Counts) != len(f.weights) {
		return fmt.Errorf("frame %d of the %s foot has %d cells, its strip profile %d: the recording is damaged",
			f.log.Frames+1, frame.Foot, len(frame.Counts), len(f.weights))
	}
	if f.log.Frames == 0 {
		f.firstUS, f.lastUS = frame.TimeUS, frame.TimeUS
	}
	f.log.Frames++
	if frame.Restarted {
		f.fit.Restart()
	}
	f.fit.Add(frame.TimeUS, frame.ArrivalNS-f.sending.NS(frame))

	at := f.seconds(frame.TimeUS)
	if f.zero.track != nil {
		f.zero.lead(at)
	}
	load, medial, over, largest := f.sums(frame.Counts)
	s := measure.Sample{T: at, LoadN: float32(load), MedialMM: nan, OverMM: nan}
	if f.gapBefore(frame) || frame.Restarted {
		s.Flags |= measure.AfterGap
	}
	if largest >= f.saturates {
		s.Flags |= measure.Saturated
	}
	if load >= LoadFloorN {
		s.MedialMM, s.OverMM = float32(medial/load), float32(over/load)
		f.log.maps.add(s.T, frame.Counts, f.kPa)
	}
	f.log.Samples = append(f.log.Samples, s)
	if shift := f.zero.observe(s.T, frame.Counts, load); shift != nil {
		f.restate(shift)
	}
	return nil
}

// nan is a place that is not known.
var nan = float32(math.NaN())

// seconds is the time since the foot's first frame by the strip's own clock.
func (f *foot) seconds(tUS uint64) float64 { return float64(int64(tUS-f.firstUS)) / 1e6 }

// restate puts right what was made of the frames so far with a zero that has
// turned out to be off by shift, counts. Frames that had no centre of pressure
// get none. Through a curve that is not a line only what unloaded cells were
// taken to bear is put right, and no centre of pressure is left.
func (f *foot) restate(shift []float64) {
	var load, medial, over float64
	if f.kPa != nil {
		f.misread = true
		for k, w := range f.weights {
			load += w.load * f.curve.KPa(k, shift[k])
		}
		for i := range f.log.Samples {
			s := &f.log.Samples[i]
			s.LoadN, s.MedialMM, s.OverMM = s.LoadN-float32(load), nan, nan
		}
		return
	}
	for k, w := range f.weights {
		load += shift[k] * w.load
		medial += shift[k] * w.medial
		over += shift[k] * w.over
	}
	for i := range f.log.Samples {
		s := &f.log.Samples[i]
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
func (f *foot) sums(counts []uint16) (load, medial, over float64, largest uint16) {
	if f.kPa != nil {
		return f.bentSums(counts)
	}
	var sum [2]weight
	for k, c := range counts {
		x, w, s := float64(c)-f.zero.level[k], &f.weights[k], &sum[k%2]
		s.load += x * w.load
		s.medial += x * w.medial
		s.over += x * w.over
		largest = max(largest, c)
	}
	return sum[0].load + sum[1].load, sum[0].medial + sum[1].medial, sum[0].over + sum[1].over, largest
}

// bentSums is sums through a curve that is not a line; it leaves the pressures
// of the frame in f.kPa.
func (f *foot) bentSums(counts []uint16) (load, medial, over float64, largest uint16) {
	f.curve.Frame(f.kPa, counts, f.zero.level)
	for k, p := range f.kPa {
		w := &f.weights[k]
		load += p * w.load
		medial += p * w.medial
		over += p * w.over
		largest = max(largest, counts[k])
	}
	return load, medial, over, largest
}

// gapBefore says whether frames are missing before this one, and counts them
// where they are numbered. Without numbers a pause of more than three usual
// intervals, and 20 ms, is a gap.
func (f *foot) gapBefore(frame *device.Frame) bool {
	stepUS := float64(int64(frame.TimeUS - f.lastUS))
	lastSeq := f.lastSeq
	f.lastUS, f.lastSeq = frame.TimeUS, frame.Seq
	if frame.Seq != device.NoSeq {
		if lastSeq != device.NoSeq && frame.Seq > lastSeq+1 {
			f.log.Lost += frame.Seq - lastSeq - 1
			return true
		}
		return false
	}
	f.log.Lost = -1
	if stepUS <= 0 {
		return false
	}
	if f.intervalUS == 0 {
		f.intervalUS = stepUS
	}
	gap := stepUS > max(3*f.intervalUS, 20_000)
	// A gap counts for no more than it takes to be one: it must not pass for the
	// usual interval, but a strip that has become slow must not be all gaps.
	f.intervalUS += 0.05 * (min(stepUS, 3*f.intervalUS) - f.intervalUS)
	return gap
}

// finish puts the log on the recording's time, which begins at startNS.
func (f *foot) finish(startNS float64) *Log {
	l := f.log
	if shift := f.zero.finish(f.seconds(f.lastUS)); shift != nil {
		f.restate(shift)
	}
	l.Zeros, l.Noise = f.zero.history, f.zero.sd()
	l.Unloaded = f.zero.found
	l.StartsLoaded = f.zero.late || !f.zero.found
	l.straight = f.zero.track != nil
	f.reconsider()
	l.StartNS = startNS
	l.Clock.startNS = startNS
	late := (float64(l.Clock.curve.FirstNS()) - startNS) / 1e9
	after := l.Clock.curve.Walk()
	put := func(t *float64) { *t = late + after(*t) }
	last := math.Inf(-1)
	for i := range l.Samples {
		s := &l.Samples[i]
		put(&s.T)
		s.T = max(s.T, last) // nor does it go back where a strip has started again
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

// reconsider looks at the zeros of all frames together.
func (f *foot) reconsider() {
	l, past := f.log, f.zero.past
	if past == nil {
		return
	}
	at, fromStart := past.settle()
	switch {
	case at != nil && (f.misread || past.strays(at)):
		l.Again, l.Unloaded, l.StartsLoaded = past.track(at), true, !fromStart
	case f.misread:
		l.Again = []Zero{{T: 0, Level: slices.Clone(f.zero.history[0].Level)}}
	}
	f.zero.past = nil
}
