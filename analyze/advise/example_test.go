package advise_test

import (
	"fmt"

	"aplomb/analyze/advise"
	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/device/platform"
)

// In shoe A the load is behind the kern, on a part of the platform. Shoe B, with a
// squarer box, moved it forward; shoe C, with a higher crown, did not.
func Example() {
	known := func(mean, u float64) compare.Summary {
		return compare.Summary{N: 5, Mean: mean, U: u, CI95: &[2]float64{mean - 2*u, mean + 2*u}}
	}
	outline := platform.Superellipse(36, 22, 2.5)
	moved := func(to string, mm float64, wording compare.Wording, p compare.Property) compare.Change {
		d := compare.Difference{Measure: measure.Over, From: "A", To: to, Difference: mm, CI95: &[2]float64{mm - 1, mm + 1}, Wording: wording}
		return compare.Change{From: "A", To: to, Properties: []compare.Property{p}, Moved: []compare.Difference{d}}
	}
	c := &compare.Comparison{
		Shoes: []compare.ShoeFoot{{
			Shoe: "A", N: 5, Verdict: measure.PulledBack, PInside: 0.01,
			Platform: measure.Platform{Outline: outline, Kern: outline.Kern(), AreaMM2: outline.Area()},
			Measures: map[measure.Measure]compare.Summary{
				measure.Over: known(-6, 0.5), measure.Medial: known(0.4, 0.5), measure.ContactShare: known(0.55, 0.03), measure.BackThird: known(0.7, 0.02),
			},
		}},
		Changes: []compare.Change{
			moved("B", 3.1, compare.Clear, compare.Property{Name: compare.Box, From: "tapered", To: "square", By: 2}),
			moved("C", 0.3, compare.CouldBeChance, compare.Property{Name: compare.Crown, From: "24.0", To: "27.0", By: 3}),
		},
	}
	a, err := advise.Next(c, "A", advise.Observations{})
	if err != nil {
		panic(err)
	}
	fmt.Println(a.Notices[0])
	fmt.Println(a.Findings[0].Saw)
	for i, o := range a.Findings[0].Options {
		fmt.Printf("%d. %s Watch: %s\n", i+1, o.Text, o.Watch)
		for _, b := range o.Because {
			fmt.Println("  ", b)
		}
	}
	// Output:
	// What follows is common practice in the trade; there is no published source for it. These are options to try, not a diagnosis.
	// left foot: behind the kern (probability of lying inside the kern 1 %), over −6.0 mm, medial +0.4 mm; 55 % of the platform carries load, the back third 70 % of it
	// 1. A squarer box, less tapered. Watch: contact share should grow, over move forward; make sure that the foot does not sink.
	//    A to B: box tapered to square, and nothing else that was entered; over moved by +3.1 mm: clear
	// 2. A wider platform. Watch: over should move towards the centre, contact share should grow; make sure that the foot does not sink.
	// 3. The shank: softer, three-quarter or harder can each be right; try both ways. Watch: over, during the rise and in the hold.
	// 4. A higher crown, if this one is low for the foot. Watch: over should move forward, contact share should grow; make sure that the foot does not sink.
	//    A to C: crown (mm) 24.0 to 27.0, and nothing else that was entered; over moved by +0.3 mm: could be chance
}
