package plan

import (
	"fmt"
	"math/rand/v2"
	"slices"
)

// Study holds the orders in which several dancers try the same shoes.
type Study struct {
	Orders   [][]string // orders[dancer][position], codes of shoes
	Square   int        // number of dancers, or a divisor of it, that balances the study
	Balanced bool       // every shoe is equally often at each position and directly after each other shoe
}

// Williams returns an order for every dancer of a study such that each shoe is
// equally often at each position and directly after each other shoe, so that the
// effect of a shoe on the next one cancels. The orders are the rows of a Williams
// square, of two squares for an odd number of shoes (Williams, Australian Journal
// of Scientific Research A 2 (1949) 149-168). The seed determines which shoe is
// which treatment of the square and which dancer has which row. It returns an
// error for fewer than two shoes, and for too many shoes or dancers.
func Williams(shoes []string, dancers int, seed uint64) (Study, error) {
	if err := checkShoes(shoes, 2); err != nil {
		return Study{}, err
	}
	if dancers < 1 || dancers > 10_000 || len(shoes) > mostSteps {
		return Study{}, fmt.Errorf("%d dancers, %d shoes: 1 to 10000 dancers, at most %d shoes", dancers, len(shoes), mostSteps)
	}
	g := rand.New(rand.NewPCG(seed, 1))
	part := slices.Clone(shoes)
	g.Shuffle(len(part), func(i, j int) { part[i], part[j] = part[j], part[i] })
	rows := square(len(shoes))
	s := Study{Square: len(rows), Balanced: dancers%len(rows) == 0}
	for len(s.Orders) < dancers {
		for _, r := range g.Perm(len(rows))[:min(len(rows), dancers-len(s.Orders))] {
			order := make([]string, len(shoes))
			for place, k := range rows[r] {
				order[place] = part[k]
			}
			s.Orders = append(s.Orders, order)
		}
	}
	return s, nil
}

// square returns the rows of a Williams design for n treatments. The first row is
// 0, 1, n−1, 2, n−2, …, so that its steps are all different modulo n, and the
// others add 1 each. For odd n the steps occur in one direction only, and the
// reversed rows are added.
func square(n int) [][]int {
	var rows [][]int
	for add := range n {
		row := make([]int, n)
		for j := range row {
			k := (j + 1) / 2
			if j%2 == 0 {
				k = n - k
			}
			row[j] = (k + add) % n
		}
		rows = append(rows, row)
	}
	if n%2 == 1 {
		for _, row := range rows[:n] {
			back := slices.Clone(row)
			slices.Reverse(back)
			rows = append(rows, back)
		}
	}
	return rows
}
