package trace

import "slices"

// mapS is how long frames under load are summed into one map, s: short against
// the shortest hold, half a second.
const mapS = 0.1

// maps sums the frames under load, cell by cell, a tenth of a second at a time,
// so that the mean pressure over any hold is known without the frames.
type maps struct {
	cells int
	spans []span
	sums  []uint32 // room for the spans to come
	peaks []uint16
}

type span struct {
	from, to float64 // s, of the first and last frame
	frames   int
	sums     []uint32 // counts, by cell
	peaks    []uint16 // largest single count, by cell
}

// roomFor is how many spans memory is set aside for at a time.
const roomFor = 64

// add takes a frame under load at t s.
func (m *maps) add(t float64, counts []uint16) {
	if len(m.spans) == 0 || t-m.spans[len(m.spans)-1].from >= mapS {
		m.begin(t)
	}
	s := &m.spans[len(m.spans)-1]
	s.to = t
	s.frames++
	sums, peaks := s.sums[:len(counts)], s.peaks[:len(counts)]
	for k, c := range counts {
		sums[k] += uint32(c)
		peaks[k] = max(peaks[k], c)
	}
}

func (m *maps) begin(t float64) {
	if len(m.sums) == 0 {
		m.sums, m.peaks = make([]uint32, roomFor*m.cells), make([]uint16, roomFor*m.cells)
	}
	m.spans = append(m.spans, span{from: t, sums: m.sums[:m.cells], peaks: m.peaks[:m.cells]})
	m.sums, m.peaks = m.sums[m.cells:], m.peaks[m.cells:]
}

// Map is what the cells read over a stretch of time, in scan order.
type Map struct {
	Frames int
	Mean   []float64 // counts above the zero in force
	Peak   []uint16  // largest single count, zero included
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
	out := Map{Mean: make([]float64, m.cells), Peak: make([]uint16, m.cells)}
	for ; i < len(m.spans) && m.spans[i].to <= to; i++ {
		s := &m.spans[i]
		out.Frames += s.frames
		for k := range out.Mean {
			out.Mean[k] += float64(s.sums[k])
			out.Peak[k] = max(out.Peak[k], s.peaks[k])
		}
	}
	for k := range out.Mean {
		out.Mean[k] = out.Mean[k]/float64(max(1, out.Frames)) - zero[k]
	}
	return out
}
