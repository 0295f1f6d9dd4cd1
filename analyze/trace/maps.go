package trace

import (
	"math"
	"slices"

	"aplomb/device"
)

// mapS is how long frames under load are summed into one map, s: short against
// the shortest hold, half a second.
const mapS = 0.1

// maps sums the frames under load, cell by cell, a tenth of a second at a time,
// so that the mean pressure over any hold is known without the frames. Where the
// curve is not a line pressures are summed beside the counts, since the pressure
// of a mean is not the mean of the pressures.
type maps struct {
	cells    int
	curve    *device.Curve
	spans    []span
	expected int // frames in all, 0 where unknown
}

// span is a tenth of a second; what its cells read lies in a room with that of
// others, since there are many and most are kept to the end.
type span struct {
	from, to float64 // s, of the first and last frame
	in       *room
	at       int32 // which of the spans in the room
	frames   int32
}

// room is memory for what the cells of some spans read.
type room struct {
	spans int32
	sums  []uint32  // counts
	peaks []uint16  // largest single count
	kPa   []float64 // sums; nil where the curve is a line
}

// roomFor is for how many spans memory is set aside at least.
const roomFor = 64

func (s *span) sums(cells int) []uint32  { return s.in.sums[int(s.at)*cells:][:cells] }
func (s *span) peaks(cells int) []uint16 { return s.in.peaks[int(s.at)*cells:][:cells] }

// kPa is nil where the curve is a line.
func (s *span) kPa(cells int) []float64 {
	if s.in.kPa == nil {
		return nil
	}
	return s.in.kPa[int(s.at)*cells:][:cells]
}

// add takes the n-th frame, under load at t s, with its pressures where the
// curve is not a line, else nil.
func (m *maps) add(n int, t float64, counts []uint16, kPa []float64) {
	if len(m.spans) == 0 || t-m.spans[len(m.spans)-1].from >= mapS {
		m.begin(n, t, kPa != nil)
	}
	s := &m.spans[len(m.spans)-1]
	s.to = t
	s.frames++
	sums, peaks := s.sums(len(counts)), s.peaks(len(counts))
	for k, c := range counts {
		sums[k] += uint32(c)
		peaks[k] = max(peaks[k], c)
	}
	if kPa != nil {
		sums := s.kPa(len(kPa))
		for k, p := range kPa {
			sums[k] += p
		}
	}
}

func (m *maps) begin(n int, t float64, bent bool) {
	next := span{from: t}
	if i := len(m.spans) - 1; i >= 0 && m.spans[i].at+1 < m.spans[i].in.spans {
		next.in, next.at = m.spans[i].in, m.spans[i].at+1
	} else {
		spans := roomFor
		if m.expected > 0 {
			spans = more(len(m.spans), n, m.expected)
		}
		size := spans * m.cells
		next.in = &room{spans: int32(spans), sums: make([]uint32, size), peaks: make([]uint16, size)}
		if bent {
			next.in.kPa = make([]float64, size)
		}
	}
	if len(m.spans) == cap(m.spans) {
		m.spans = slices.Grow(m.spans, more(len(m.spans), n, m.expected))
	}
	m.spans = append(m.spans, next)
}

// more returns for how many more of something there should be room, when the
// first n of so many expected frames have made have of it: memory that is grown
// into and left again costs as much as what is kept.
func more(have, n, expected int) int {
	if expected <= n {
		return max(roomFor, have)
	}
	return max(roomFor, have*(expected-n)/n)
}

// Map is what the cells bore over a stretch of time, in scan order.
type Map struct {
	Frames  int
	KPa     []float64 // mean pressure, above the zero in force
	PeakKPa []float64 // largest in a single frame
	Peak    []uint16  // largest single count, zero included
	// Beyond is how many of the frames lie in a tenth of a second in which a
	// cell was beyond the pressures that the strip was calibrated for.
	Beyond int
}

// Map gathers the maps that lie within from and to, s; zero is that of the
// stretch (see ZeroAt). Frames is 0 where there is none.
func (l *Log) Map(from, to float64, zero []float64) Map {
	m := &l.maps
	i, _ := slices.BinarySearchFunc(m.spans, from, func(s span, t float64) int {
		if s.from < t {
			return -1
		}
		return 1
	})
	out := Map{KPa: make([]float64, m.cells), PeakKPa: make([]float64, m.cells), Peak: make([]uint16, m.cells)}
	for ; i < len(m.spans) && m.spans[i].to <= to; i++ {
		s := &m.spans[i]
		out.Frames += int(s.frames)
		sums, peaks, kPa := s.sums(m.cells), s.peaks(m.cells), s.kPa(m.cells)
		for k := range out.KPa {
			if kPa != nil {
				out.KPa[k] += kPa[k]
			} else {
				out.KPa[k] += float64(sums[k])
			}
			out.Peak[k] = max(out.Peak[k], peaks[k])
		}
		if m.beyond(s, zero) {
			out.Beyond += int(s.frames)
		}
	}
	frames := float64(max(1, out.Frames))
	for k := range out.KPa {
		out.KPa[k] /= frames
		if m.curve.Line() != nil {
			out.KPa[k] = m.curve.KPa(k, out.KPa[k]-zero[k])
		}
		out.PeakKPa[k] = m.curve.KPa(k, float64(out.Peak[k])-zero[k])
	}
	return out
}

// beyond says whether a cell was beyond the calibrated pressures within s.
func (m *maps) beyond(s *span, zero []float64) bool {
	most := m.curve.MostKPa()
	if math.IsInf(most, 1) {
		return false
	}
	for k, c := range s.peaks(m.cells) {
		if m.curve.KPa(k, float64(c)-zero[k]) > most {
			return true
		}
	}
	return false
}
