package trace

import (
	"math"
	"slices"

	"aplomb/device"
)

// mapS is the time over which frames under load are summed into one map, s. It is short
// compared with the shortest hold, half a second.
const mapS = 0.1

// maps holds the sums of the frames under load, cell by cell, for every tenth of a
// second, so that the mean pressure over any hold can be computed without the frames.
// Where the curve is not linear it also sums pressures, since the pressure of a mean
// count is not the mean pressure.
type maps struct {
	cells int
	curve *device.Curve
	spans []span
}

// span holds the sums over a tenth of a second.
type span struct {
	from, to float64 // s, of the first and last frame
	frames   int32
	sums     []uint32  // counts
	peaks    []uint16  // largest single count
	kPa      []float64 // sums; nil where the curve is linear
}

// add adds a frame under load at the time t, s. kPa holds its pressures where the curve
// is not linear, and is nil otherwise.
func (m *maps) add(t float64, counts []uint16, kPa []float64) {
	if len(m.spans) == 0 || t-m.spans[len(m.spans)-1].from >= mapS {
		m.begin(t, kPa != nil)
	}
	s := &m.spans[len(m.spans)-1]
	s.to = t
	s.frames++
	sums, peaks := s.sums[:len(counts)], s.peaks[:len(counts)]
	for k, c := range counts {
		sums[k] += uint32(c)
		peaks[k] = max(peaks[k], c)
	}
	if kPa != nil {
		sums := s.kPa
		for k, p := range kPa {
			sums[k] += p
		}
	}
}

func (m *maps) begin(t float64, nonlinear bool) {
	next := span{from: t, sums: make([]uint32, m.cells), peaks: make([]uint16, m.cells)}
	if nonlinear {
		next.kPa = make([]float64, m.cells)
	}
	m.spans = append(m.spans, next)
}

// Map is the mean pressure map over an interval of time. Slices are in scan order.
type Map struct {
	Frames  int
	KPa     []float64 // mean pressure, above the zero in force
	PeakKPa []float64 // largest in a single frame
	Peak    []uint16  // largest single count, zero included
	// Beyond is the number of these frames that lie in a tenth of a second in which a
	// cell was beyond the calibrated pressures.
	Beyond int
}

// Map returns the mean of the maps within from and to, s, above a zero (see ZeroAt),
// counts. Frames is 0 where there is none.
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
		sums, peaks, kPa := s.sums, s.peaks, s.kPa
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
		if m.curve.LinearScale() != nil {
			out.KPa[k] = m.curve.KPa(k, out.KPa[k]-zero[k])
		}
		out.PeakKPa[k] = m.curve.KPa(k, float64(out.Peak[k])-zero[k])
	}
	return out
}

// Maps returns the maps that lie within from and to, s, each of a tenth of a second
// under load, above a zero (see ZeroAt), counts.
func (l *Log) Maps(from, to float64, zero []float64) (all []Map) {
	for i := range l.maps.spans {
		if s := &l.maps.spans[i]; s.from >= from && s.to <= to {
			all = append(all, l.Map(s.from, s.to, zero))
		}
	}
	return all
}

// beyond reports whether a cell was beyond the calibrated pressures within s.
func (m *maps) beyond(s *span, zero []float64) bool {
	most := m.curve.MaxKPa()
	if math.IsInf(most, 1) {
		return false
	}
	for k, c := range s.peaks {
		if m.curve.KPa(k, float64(c)-zero[k]) > most {
			return true
		}
	}
	return false
}
