package plan_test

import (
	"fmt"

	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/analyze/plan"
	"aplomb/device"
)

func Example() {
	p, err := plan.Mirrored([]string{"A", "B", "C"}, 2, 5, 3)
	if err != nil {
		panic(err)
	}
	for _, s := range p.Steps {
		fmt.Println(s.Text())
	}
	fmt.Println(p.Balance())
	n := plan.NoiseOver(nil, device.Mount{SeatSDMM: 1}, mounting.New(nil).Effect("D7", measure.Over))
	fmt.Println(n.RestsOn())
	fmt.Println(p.DetectableDifference(n).Text())
	for _, s := range p.Alternatives(n) {
		fmt.Println(s.Text())
	}
	// Output:
	// Put A on and fix the strip: mounting 1, 5 relevés.
	// Put B on and fix the strip: mounting 1, 5 relevés.
	// Put C on and fix the strip: mounting 1, 5 relevés.
	// Rest for two minutes. Keep C on, but take the strip off and fix it again: mounting 2, 5 relevés.
	// Put B on again and fix the strip again: mounting 2, 5 relevés.
	// Put A on again and fix the strip again: mounting 2, 5 relevés.
	// Every shoe comes as early as late: steady warming up or tiring cancels.
	// Relevés are assumed to scatter by 1.0 mm, our assumption; a new mounting is assumed to add 1.0 mm, our assumption; besides, mountings differ by 0.3 mm, our assumption.
	// 2 mountings a shoe, 5 relevés each: a true difference of 4.6 mm will be called clear four times in five (standard uncertainty 1.1 mm).
	// 4 mountings a shoe, 5 relevés each: a true difference of 3.2 mm will be called clear four times in five (standard uncertainty 0.8 mm).
	// 3 mountings a shoe, 5 relevés each: a true difference of 3.7 mm will be called clear four times in five (standard uncertainty 0.9 mm).
	// 2 mountings a shoe, 10 relevés each: a true difference of 4.5 mm will be called clear four times in five (standard uncertainty 1.1 mm).
	// 2 mountings a shoe, 8 relevés each: a true difference of 4.5 mm will be called clear four times in five (standard uncertainty 1.1 mm).
}

func ExampleWilliams() {
	s, err := plan.Williams([]string{"A", "B", "C", "D"}, 4, 1)
	if err != nil {
		panic(err)
	}
	for _, order := range s.Orders {
		fmt.Println(order)
	}
	fmt.Println(s.Text())
	// Output:
	// [C D B A]
	// [D A C B]
	// [A B D C]
	// [B C A D]
	// Every shoe comes equally often at each place and directly after each other shoe.
}
