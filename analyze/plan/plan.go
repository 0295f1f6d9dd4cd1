// Package plan says in which order shoes are to be tried, and the smallest
// difference between them that trying them so can show. It knows no recording:
// names and numbers go in, an order and numbers come out. What people read of
// it stands in words.go.
package plan

import (
	"errors"
	"fmt"
	"math/rand/v2"
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
	p := Plan{Shoes: shoes, Mountings: mountings, Releves: releves, Seed: seed}
	first := rand.New(rand.NewPCG(seed, 0)).IntN(len(shoes))
	rounds := positions(len(shoes), mountings)
	sums := make([]int, len(shoes)) // of every shoe's positions
	for r, round := range rounds {
		at := make([]int, len(round)) // the shoe at each place of the round
		for i, place := range round {
			at[place] = i
			sums[i] += r*len(shoes) + place
		}
		for place, i := range at {
			shoe := shoes[(first+i)%len(shoes)]
			p.Steps = append(p.Steps, Step{
				Shoe: shoe, Mounting: r + 1, Releves: releves, Rest: r > 0 && place == 0,
				SameShoe: len(p.Steps) > 0 && p.Steps[len(p.Steps)-1].Shoe == shoe,
			})
		}
	}
	least, most := sums[0], sums[0]
	for _, s := range sums {
		least, most = min(least, s), max(most, s)
	}
	p.Uneven = float64(most-least) / float64(mountings)
	return p, nil
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
			second, third := sharedOut(k)
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
func sharedOut(k int) (second, third []int) {
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
