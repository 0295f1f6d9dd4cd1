package releve

import (
	"cmp"
	"slices"
)

// PulsePair is a relevé: a pulse of the left foot, of the right foot, or of both.
type PulsePair struct {
	Left, Right int // index of the pulse of that foot; -1 where the foot was not up
}

// EndS returns when the relevé ends, both feet down, s; left and right are the
// arguments of Pair.
func (r PulsePair) EndS(left, right []Pulse) float64 {
	switch {
	case r.Left < 0:
		return right[r.Right].EndS
	case r.Right < 0:
		return left[r.Left].EndS
	}
	return max(left[r.Left].EndS, right[r.Right].EndS)
}

// OnsetS returns when the relevé begins, s: with the foot that rises first. left and right
// are the arguments of Pair.
func (r PulsePair) OnsetS(left, right []Pulse) float64 {
	switch {
	case r.Left < 0:
		return right[r.Right].OnsetS
	case r.Right < 0:
		return left[r.Left].OnsetS
	}
	return min(left[r.Left].OnsetS, right[r.Right].OnsetS)
}

// Pair pairs the pulses of the two feet, each in order, where they overlap by at
// least half of the shorter one. Of several possible partners the one with the
// longest overlap is taken. A pulse without a partner is a relevé on one foot.
// The result is in order of onset.
func Pair(left, right []Pulse) []PulsePair {
	type match struct {
		left, right int
		overlap     float64
	}
	var matches []match
	for i, j := 0, 0; i < len(left) && j < len(right); {
		l, r := left[i], right[j]
		overlap := min(l.EndS, r.EndS) - max(l.OnsetS, r.OnsetS)
		if overlap > 0 && overlap >= 0.5*min(l.EndS-l.OnsetS, r.EndS-r.OnsetS) {
			matches = append(matches, match{i, j, overlap})
		}
		if l.EndS < r.EndS {
			i++
		} else {
			j++
		}
	}
	slices.SortStableFunc(matches, func(a, b match) int { return cmp.Compare(b.overlap, a.overlap) })

	partner := slices.Repeat([]int{-1}, len(left))
	taken := make([]bool, len(right))
	for _, m := range matches {
		if partner[m.left] < 0 && !taken[m.right] {
			partner[m.left], taken[m.right] = m.right, true
		}
	}
	all := make([]PulsePair, 0, len(left)+len(right))
	for i, j := range partner {
		all = append(all, PulsePair{Left: i, Right: j})
	}
	for j, is := range taken {
		if !is {
			all = append(all, PulsePair{Left: -1, Right: j})
		}
	}
	slices.SortStableFunc(all, func(a, b PulsePair) int { return cmp.Compare(a.OnsetS(left, right), b.OnsetS(left, right)) })
	return all
}
