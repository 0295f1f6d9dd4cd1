package seat

import (
	"math"
	"slices"
)

// reading is one map, or a mean of several, in the form that the fit uses: cells row by
// row from the back.
type reading struct {
	p    []float64 // kPa
	s    []float64 // expected standard deviation of each, kPa; +Inf for a cell without a valid reading
	most float64   // the largest reading, kPa
	n    int       // number of maps averaged
}

// modelError is the standard deviation of the error of integrating over a grid of points,
// relative to the largest reading of a map.
const modelError = 0.002

// loaded returns the maps of a kind that bear load.
func loaded(in Input, kind Kind) []reading {
	var list []reading
	for _, m := range in.Maps {
		if m.Kind == kind && load(in, m.KPa) >= leastLoadN {
			list = append(list, newReading(in, m))
		}
	}
	return list
}

func newReading(in Input, m Map) reading {
	cells := in.Strip.Cells()
	r := reading{p: make([]float64, cells), s: make([]float64, cells), n: 1}
	for k, v := range m.KPa {
		i := place(in, k)
		if !in.believed(k, v) {
			r.s[i] = math.Inf(1)
			continue
		}
		r.p[i], r.s[i] = v, m.NoiseKPa
		r.most = max(r.most, v)
	}
	for i := range r.s {
		r.s[i] = math.Hypot(r.s[i], modelError*r.most)
	}
	return r
}

// place returns the index row·cols + col of the k-th cell of the scan.
func place(in Input, k int) int {
	row, col := in.Strip.RowCol(k)
	return row*in.Strip.Cols + col
}

// believed reports whether the reading v of the k-th cell of the scan is valid.
func (in *Input) believed(k int, v float64) bool {
	return !math.IsNaN(v) && (in.Lost == nil || !in.Lost[k])
}

// load returns the load on all cells with valid readings, N.
func load(in Input, kPa []float64) float64 {
	sum := 0.0
	for k, v := range kPa {
		if in.believed(k, v) {
			sum += v
		}
	}
	return sum * in.Strip.CellArea() / 1000
}

// Numbers of maps of each kind that are fitted.
const (
	mostPresses = 16
	mostHolds   = 8
)

// mostCompared is the number of maps of holds that are compared with each other at a
// time. It keeps the run time proportional to the number of holds in a recording.
const mostCompared = 64

// condense reduces the maps of a kind to the number that is fitted. Of the two presses
// that differ least it drops one, because the mean of two tilted planes on a bed that
// does not pull is not such a plane; of holds it takes the mean.
func condense(maps []reading, kind Kind) []reading {
	if kind != Hold {
		kept := newMapSet(maps...)
		for len(kept.maps) > mostPresses {
			i, _ := kept.closest()
			kept.remove(i)
		}
		return kept.maps
	}
	kept := newMapSet()
	for k := range maps {
		kept.add(maps[k])
		for len(kept.maps) > mostCompared || k == len(maps)-1 && len(kept.maps) > mostHolds {
			i, j := kept.closest()
			both := mean(&kept.maps[i], &kept.maps[j])
			kept.remove(i)
			kept.replace(j, both)
		}
	}
	return kept.maps
}

// mapSet is a set of maps with the differences between all pairs, relative to their load.
// The difference between means of many maps is weighted higher, so that all means end up
// with similar numbers of maps.
type mapSet struct {
	maps        []reading
	loads       []float64
	differences [][]float64 // between map a and each map b < a
}

func newMapSet(maps ...reading) *mapSet {
	s := &mapSet{}
	for _, m := range maps {
		s.add(m)
	}
	return s
}

func (s *mapSet) add(m reading) {
	s.maps, s.loads = append(s.maps, m), append(s.loads, 0)
	s.differences = append(s.differences, make([]float64, len(s.maps)-1, mostCompared+1))
	s.replace(len(s.maps)-1, m)
}

func (s *mapSet) remove(i int) {
	s.maps, s.loads, s.differences = slices.Delete(s.maps, i, i+1), slices.Delete(s.loads, i, i+1), slices.Delete(s.differences, i, i+1)
	for a := i; a < len(s.differences); a++ {
		s.differences[a] = slices.Delete(s.differences[a], i, i+1)
	}
}

// replace puts m in the place of map i.
func (s *mapSet) replace(i int, m reading) {
	s.maps[i], s.loads[i] = m, 0
	for _, p := range m.p {
		s.loads[i] += max(0, p)
	}
	for k := range s.maps {
		if a, b := max(i, k), min(i, k); a != b {
			s.differences[a][b] = difference(s.maps[a].p, s.maps[b].p) / max(s.loads[a], s.loads[b]) * float64(s.maps[a].n*s.maps[b].n)
		}
	}
}

// closest returns the two maps that differ least, j < i.
func (s *mapSet) closest() (i, j int) {
	i, j, best := 0, 1, math.Inf(1)
	for a, row := range s.differences {
		for b, d := range row {
			if d < best {
				i, j, best = a, b, d
			}
		}
	}
	return i, j
}

// difference returns the sum of absolute differences between two maps.
func difference(a, b []float64) float64 {
	var d float64
	for k, p := range a {
		d += math.Abs(p - b[k])
	}
	return d
}

// mean returns the mean of two means of maps. It keeps the standard deviations of one
// map, because the model's error does not average out.
func mean(a, b *reading) reading {
	n := a.n + b.n
	wa, wb := float64(a.n)/float64(n), float64(b.n)/float64(n)
	r := reading{p: make([]float64, len(a.p)), s: make([]float64, len(a.s)), n: n}
	for k := range r.p {
		r.p[k] = wa*a.p[k] + wb*b.p[k]
		r.s[k] = max(a.s[k], b.s[k]) // +Inf where one of the two is not valid
		r.most = max(r.most, r.p[k])
	}
	return r
}
