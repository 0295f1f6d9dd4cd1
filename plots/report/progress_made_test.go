package report_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/analyze/track"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/plots/internal/exampledata"
	"aplomb/plots/report"
)

// madeVisit is a visit of which the means are given: two mountings with three relevés each.
type madeVisit struct {
	day         int // since the first visit
	over        [2]float64
	medial      [2]float64
	share       float64 // of the load, on the left foot
	shoe        string
	feet        []device.Foot // none: nothing was measured
	pain        [2]int        // before and after; -1 if not recorded
	note        string
	singleLeg   int
	hours, mass float64
	notice      string
}

// madeKern is the kern of a platform of 37 × 23 mm with an outline exponent of 3.
var madeKern = platform.Superellipse(37, 23, 3).Kern()

// made returns the data of a progress sheet of visits.
func made(t testing.TB, dancer string, visits ...madeVisit) report.ProgressData {
	t.Helper()
	d := report.ProgressData{Dancer: dancer, Watched: "left", Provenance: exampledata.Usual().Comparison.Provenance}
	rows := map[measure.Measure][]track.Row{}
	for i, v := range visits {
		at := firstVisit.AddDate(0, 0, v.day)
		name := at.Format(time.DateOnly)
		one := report.Visit{Name: name, Day: at, Support: "barre", Rise: "roll-up", Floor: "vinyl on wood", MassKG: v.mass, Note: v.note, Notice: v.notice}
		if v.pain[0] >= 0 {
			one.PainBefore = &v.pain[0]
		}
		if v.pain[1] >= 0 {
			one.PainAfter = &v.pain[1]
		}
		if v.singleLeg > 0 {
			one.SingleLeg.Set(device.Left, v.singleLeg)
			one.SingleLeg.Set(device.Right, 25)
		}
		d.Visits = append(d.Visits, one)
		for mounting := range 2 {
			for n := range 3 {
				// The same offsets in every visit, turned so that visits differ a little.
				for _, f := range v.feet {
					off := []float64{-0.35, -0.1, 0.3, 0.25, 0.05, -0.15}[(mounting*3+(1+2*int(f))*n+i)%6] + []float64{-0.3, 0.3}[(mounting+int(f)*(i/2))%2]
					row := track.Row{
						Dancer: dancer, Visit: name, Recording: fmt.Sprint(i, "-", mounting), At: at, Foot: f, Shoe: v.shoe, Make: v.shoe,
						Version: fmt.Sprint(v.hours), Hours: v.hours, Strip: f.String(), Mounting: fmt.Sprint(f, i, mounting), Support: "barre", Rise: "roll-up",
						N: n + 1, U: 0.35, USeat: 0.3, Kern: madeKern,
					}
					for m, value := range map[measure.Measure]float64{
						measure.Over: v.over[f] + off, measure.Medial: v.medial[f] + 0.6*off, measure.ContactShare: 0.8 + 0.03*v.over[f] + 0.02*off,
						measure.LoadShare: v.share + 0.01*off, measure.Load: v.mass * device.StandardGravity * []float64{v.share, 1 - v.share}[f] * (1 + 0.02*off),
					} {
						one := row
						one.Value = value
						if m != measure.Over && m != measure.Medial {
							one.U, one.USeat = 0.01, 0
						}
						if m == measure.LoadShare && len(v.feet) < 2 || m == measure.Load && v.mass == 0 {
							continue
						}
						rows[m] = append(rows[m], one)
					}
				}
			}
		}
	}
	for _, m := range report.ProgressMeasures {
		if len(rows[m]) > 0 {
			f, err := track.Follow(m, dancer, rows[m])
			require.NoError(t, err)
			d.FollowUps = append(d.FollowUps, f)
		}
	}
	return d
}

const stopAt5 = "Stop: pain is 5 of 10. (From 4 on, or an increase of 2: our own cautious default.)"

var bothFeet = device.Feet[:]

// recovery returns six weeks in which the load moves forward on the left foot, with a
// stop.
func recovery() []madeVisit {
	return []madeVisit{
		{day: 0, over: [2]float64{-6.6, -2.0}, medial: [2]float64{-1.2, -0.3}, share: 0.41, shoe: "C", feet: bothFeet, pain: [2]int{3, 3}, mass: 52, singleLeg: 4},
		{day: 9, over: [2]float64{-6.1, -2.1}, medial: [2]float64{-1.0, -0.2}, share: 0.43, shoe: "C", feet: bothFeet, pain: [2]int{2, 5}, mass: 52, singleLeg: 7, notice: stopAt5, note: "pain at the end of the second set"},
		{day: 14, pain: [2]int{3, -1}, note: "rested, nothing measured"},
		{day: 23, over: [2]float64{-5.0, -2.2}, medial: [2]float64{-0.7, -0.3}, share: 0.45, shoe: "C", feet: bothFeet, pain: [2]int{1, 2}, mass: 52, singleLeg: 11, hours: 4},
		{day: 33, over: [2]float64{-4.1, -2.0}, medial: [2]float64{-0.6, -0.2}, share: 0.47, shoe: "C", feet: bothFeet, pain: [2]int{1, 1}, mass: 52, singleLeg: 15, hours: 6},
		{day: 42, over: [2]float64{-3.4, -2.1}, medial: [2]float64{-0.5, -0.3}, share: 0.48, shoe: "C", feet: bothFeet, pain: [2]int{0, 1}, mass: 52, singleLeg: 18, hours: 9, note: "steadier on the left; asked to hold longer"},
	}
}
