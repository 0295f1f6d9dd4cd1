package track_test

import (
	"fmt"
	"time"

	"aplomb/analyze/measure"
	"aplomb/analyze/track"
	"aplomb/device"
)

// A dancer has five visits in six weeks; the strip is mounted twice in each.
func Example() {
	over := [][][]float64{ // by visit, mounting and relevé, mm
		{{-4.1, -4.3, -4.4}, {-3.8, -3.9, -4.2}},
		{{-3.6, -3.7, -3.9}, {-4.2, -4.0, -4.4}},
		{{-3.0, -3.1, -3.3}, {-2.6, -2.9, -2.8}},
		{{-1.9, -2.0, -2.3}, {-1.5, -1.7, -1.9}},
		{{-1.4, -1.5, -1.8}, {-1.1, -1.2, -1.3}},
	}
	start := time.Date(2026, 3, 2, 17, 0, 0, 0, time.UTC)
	var rows []track.Row
	for v, mountings := range over {
		for m, releves := range mountings {
			for n, mm := range releves {
				rows = append(rows, track.Row{
					Dancer: "D7", Visit: start.AddDate(0, 0, 10*v).Format(time.DateOnly), At: start.AddDate(0, 0, 10*v),
					Recording: fmt.Sprint(v, m), Mounting: fmt.Sprint(v, m), Foot: device.Left, Shoe: "A", N: n + 1, Value: mm,
				})
			}
		}
	}
	f, err := track.Follow(measure.Over, "D7", rows)
	if err != nil {
		panic(err)
	}
	s := f.Series[0]
	fmt.Println(s.RepeatText(f.Measure))
	for _, p := range s.Points {
		if p.Reference {
			fmt.Printf("%s: %.1f mm, the reference\n", p.Visit, p.Mean)
			continue
		}
		fmt.Printf("%s: %.1f mm, change %+.1f mm: %s\n", p.Visit, p.Mean, *p.Change, p.Wording)
	}
	slope, interval, wording := s.Points[4].Fatigue.Parts(f.Measure)
	fmt.Printf("%s a relevé within a set (95 %% interval %s): %s\n", slope, interval, wording)
	// Output:
	// The minimal detectable change is 1.0 mm, from remountings on one day of this dancer (5 degrees of freedom). Days differ by more than mountings, so a change just beyond it may be the day's.
	// 2026-03-02: -4.1 mm, the reference
	// 2026-03-12: -4.0 mm, change +0.2 mm: within noise
	// 2026-03-22: -2.9 mm, change +1.2 mm: beyond noise
	// 2026-04-01: -1.9 mm, change +2.2 mm: beyond noise
	// 2026-04-11: -1.4 mm, change +2.7 mm: beyond noise
	// −0.15 mm a relevé within a set (95 % interval −0.27 mm to −0.03 mm): clear
}
