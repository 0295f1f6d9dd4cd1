// Package plan determines the order in which to try shoes, and the smallest difference
// between them that this design can detect. Its input are names and numbers, not
// recordings. Its texts are in words.go.
package plan

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
)

// mostSteps is the largest number of steps of a plan, more than is practicable in
// one visit.
const mostSteps = 200

// Plan is an order in which one dancer tries shoes.
type Plan struct {
	Shoes     []string // codes, in the order given
	Mountings int      // number of mountings of the strip under each shoe
	Releves   int      // number of relevés in every mounting
	Seed      uint64   // determines the shoe that begins
	Feet      [2]bool  // by device.Foot, those to be recorded; none where the plan does not specify them
	Steps     []Step
	// Uneven is the largest difference between the mean positions of two shoes in the
	// order, in steps. At 0 a linear trend has the same effect on every shoe.
	Uneven float64
}

// Step is one mounting of the strip under one shoe, with the relevés made in it.
// The strip is mounted anew before every step.
type Step struct {
	Shoe     string
	Mounting int // number of the mounting under this shoe, from 1
	Releves  int
	Rest     bool // rest before the step: a round of all shoes is complete
	SameShoe bool // the shoe of the step before: only the strip is mounted anew
}

// Mirrored returns a plan of rounds in which every shoe is worn once, every
// second round in reverse order (A B C, C B A, …). The mean position of every
// shoe is then the same, and a linear effect of warming up or tiring, over the
// whole plan or anew after each rest, cancels. The seed determines the shoe that
// begins; the others follow in the order given.
//
// An odd number of mountings begins with three rounds that balance the positions.
// The balance is exact for an odd number of shoes. For an even number the sum of
// all positions cannot be divided evenly, and the mean positions differ by
// 1/mountings of a step, the least possible. With a single mounting of each shoe
// nothing cancels: the last shoe is len(shoes) − 1 steps after the first.
//
// It returns an error without shoes, for a shoe named twice or without a code,
// for mountings or relevés below 1, and for too many steps.
func Mirrored(shoes []string, mountings, releves int, seed uint64) (Plan, error) {
	if err := checkShoes(shoes, 1); err != nil {
		return Plan{}, err
	}
	if mountings < 1 || releves < 1 {
		return Plan{}, fmt.Errorf("%d mountings of %d relevés: at least 1 of each", mountings, releves)
	}
	if mountings > mostSteps/len(shoes) {
		return Plan{}, fmt.Errorf("%d mountings of %d shoes: at most %d in all in one visit", mountings, len(shoes), mostSteps)
	}
	first := rand.New(rand.NewPCG(seed, 0)).IntN(len(shoes))
	var steps []Step
	for r, round := range positions(len(shoes), mountings) {
		at := make([]int, len(round)) // the shoe at each position of the round
		for i, place := range round {
			at[place] = i
		}
		for _, i := range at {
			steps = append(steps, Step{Shoe: shoes[(first+i)%len(shoes)], Mounting: r + 1, Releves: releves})
		}
	}
	p := FromSteps(seed, steps)
	p.Shoes = shoes
	return p, nil
}

// FromSteps returns the plan with these steps in order. Shoe, mounting and relevés of
// each step must be set; the other fields are derived. Shoes are in order of first use.
func FromSteps(seed uint64, steps []Step) Plan {
	p := Plan{Seed: seed, Steps: slices.Clone(steps)}
	sums, worn := map[string]int{}, map[string]int{} // by shoe: sum and number of its positions
	for i := range p.Steps {
		s := &p.Steps[i]
		if worn[s.Shoe] == 0 {
			p.Shoes = append(p.Shoes, s.Shoe)
		}
		sums[s.Shoe] += i
		worn[s.Shoe]++
		p.Mountings, p.Releves = max(p.Mountings, s.Mounting), max(p.Releves, s.Releves)
		if i > 0 {
			before := p.Steps[i-1]
			s.Rest, s.SameShoe = s.Mounting > before.Mounting, s.Shoe == before.Shoe
		}
	}
	least, most := math.Inf(1), math.Inf(-1)
	for shoe, sum := range sums {
		mean := float64(sum) / float64(worn[shoe])
		least, most = min(least, mean), max(most, mean)
	}
	p.Uneven = max(0, most-least)
	return p
}

// positions returns, for every round, the position of each of k shoes in it.
func positions(k, rounds int) [][]int {
	forward, backward := make([]int, k), make([]int, k)
	for i := range k {
		forward[i], backward[i] = i, k-1-i
	}
	var out [][]int
	if rounds%2 == 1 {
		out = append(out, forward)
		if rounds >= 3 {
			second, third := balancingRounds(k)
			out = append(out, second, third)
		}
	}
	for len(out) < rounds {
		out = append(out, forward, backward)
	}
	return out
}

// balancingRounds returns the second and third round after one that runs forward,
// such that the three positions of every shoe add up to the same sum, to within 1
// for an even number of shoes. They are rows of a three-rowed magic rectangle: in
// the second round the first half of the shoes has the second half of the
// positions; the positions missing from the sum then decrease by two and form the
// third round.
func balancingRounds(k int) (second, third []int) {
	half := (k + 1) / 2
	for i := range k {
		if i < half {
			second, third = append(second, i+k-half), append(third, k-1-2*i)
		} else {
			second, third = append(second, i-half), append(third, k-2-2*(i-half))
		}
	}
	return second, third
}

// checkShoes returns an error for fewer than least shoes, and for one without a
// code or named twice.
func checkShoes(shoes []string, least int) error {
	if len(shoes) < least {
		return fmt.Errorf("%d shoes: at least %d to plan with", len(shoes), least)
	}
	seen := map[string]bool{}
	for _, s := range shoes {
		switch {
		case s == "":
			return errors.New("a shoe without a code: name every shoe")
		case seen[s]:
			return fmt.Errorf("shoe %s is named twice: name every shoe once", s)
		}
		seen[s] = true
	}
	return nil
}
