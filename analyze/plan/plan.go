// Package plan says in which order shoes are to be tried, and the smallest
// difference between them that trying them so can show. It knows no recording:
// names and numbers go in, an order and numbers come out. What people read of
// it stands in words.go.
package plan

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
)

// mostSteps bounds a plan: nobody goes on pointe so often in one visit.
const mostSteps = 200

// Plan is an order in which one dancer tries shoes.
type Plan struct {
	Shoes     []string // as they were named
	Mountings int      // of the strip under each shoe
	Releves   int      // in every mounting
	Seed      uint64   // which shoe begins follows from it
	Steps     []Step
	// Uneven is how far the mean positions of two shoes in the order lie apart
	// at most, in steps. At 0 a linear drift does the same to every shoe.
	Uneven float64
}

// Step is one mounting of the strip under one shoe, and the relevés made in it.
// The strip is fixed anew before every step.
type Step struct {
	Shoe     string
	Mounting int // of this shoe, from 1
	Releves  int
	Rest     bool // sit down before it: every shoe has been worn once more
	SameShoe bool // the shoe is on already: only the strip comes off and goes back
}

// Mirrored plans rounds in which every shoe is worn once, each second round
// backwards (A B C, C B A, …), so that the mean position of every shoe is the
// same and warming up or tiring that runs linearly over the steps, or starts
// anew after each rest, takes no side. The seed chooses the shoe that begins;
// the others follow in the order named.
//
// An odd number of mountings begins with three rounds that share the positions
// out. With an odd number of shoes nothing is left over. With an even number
// the sum of all positions cannot be split evenly, and the mean positions lie
// as close as they can, 1/mountings of a step apart. A single mounting of each
// shoe cancels nothing: the last shoe comes len(shoes) − 1 steps after the first.
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
		at := make([]int, len(round)) // the shoe at each place of the round
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

// Of completes a plan of which no more was kept than the shoe, the mounting and
// the relevés of every step, in order. Shoes come as they are first worn.
func FromSteps(seed uint64, steps []Step) Plan {
	p := Plan{Seed: seed, Steps: slices.Clone(steps)}
	sums, worn := map[string]int{}, map[string]int{} // of every shoe's positions
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

// positions returns for every round the place of each of k shoes in it.
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

// sharedOut returns the second and third round after one that runs forward: the
// three places of every shoe add up to the same, with an even number of shoes
// to within 1. It is the three-rowed magic rectangle: the latter half of the
// places goes to the former half of the shoes, and what then lacks falls by
// twos, which makes the third round an order as well.
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
