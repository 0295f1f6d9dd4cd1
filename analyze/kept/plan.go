package kept

import (
	"fmt"
	"math"
	"strconv"

	"aplomb/analyze/logbook"
	"aplomb/analyze/plan"
	"aplomb/device"
)

// PlanOf returns a plan as the logbook keeps it.
func PlanOf(p plan.Plan) logbook.Plan {
	kept := logbook.Plan{Seed: p.Seed, Releves: p.Releves}
	for _, s := range p.Steps {
		kept.Steps = append(kept.Steps, logbook.PlanStep{Shoe: s.Shoe, Mounting: s.Mounting})
	}
	return kept
}

// Plan returns the plan that the logbook kept.
func Plan(kept logbook.Plan) plan.Plan {
	var steps []plan.Step
	for _, s := range kept.Steps {
		steps = append(steps, plan.Step{Shoe: s.Shoe, Mounting: s.Mounting, Releves: kept.Releves})
	}
	return plan.FromSteps(kept.Seed, steps)
}

// Recorded returns a recording with its relevés as a plan counts it, under its
// number in the logbook.
func Recorded(r logbook.Recording, releves []logbook.Releve) plan.Recorded {
	done := plan.Recorded{Name: strconv.FormatInt(r.ID, 10), Releves: -1}
	named := true
	for _, foot := range r.Feet {
		if foot == nil {
			continue
		}
		done.Shoe = together(done.Shoe, foot.Shoe)
		done.Mounting = together(done.Mounting, foot.Mounting)
		named = named && foot.Mounting != ""
	}
	if !named {
		done.Mounting = ""
	}
	if r.Measured != "" {
		done.Releves = Risen(releves)
	}
	return done
}

func together(a, b string) string {
	if a == "" || a == b {
		return b
	}
	return a + " / " + b
}

// Risen counts the measured relevés of a foot; of two feet that rose, those of
// the one with fewer.
func Risen(releves []logbook.Releve) (n int) {
	var feet [2]int
	for _, r := range releves {
		if !r.Aborted {
			feet[r.Foot]++
		}
	}
	if feet[device.Left] == 0 || feet[device.Right] == 0 {
		return max(feet[device.Left], feet[device.Right])
	}
	return min(feet[device.Left], feet[device.Right])
}

// NoiseOver returns what keeps a dancer's difference in over between two shoes
// from being seen under the least repeatable of some strips, as far as rows of
// over_mm of the whole logbook tell: the scatter from the dancer's relevés
// within a mounting, the sensor's part from anybody's on that strip. versions
// are those of every strip, the one of a strip that holds now marked as such.
//
// The sensor's part is the root mean square of what the uncertainty of a relevé
// holds beside the seat. That is on the safe side: what two shoes on one strip
// have in common cancels in their difference, and sway is in the scatter as well.
func NoiseOver(dancer string, rows []logbook.MeasureRow, versions []logbook.Strip) plan.Noise {
	strip := leastRepeatable(versions)
	n := plan.NoiseOver(withinMountings(dancer, rows), strip.Mount)
	n.Strip = strip.Name
	seats := map[string]float64{}
	for _, v := range versions {
		seats[versionName(v.Name, v.Version)] = v.Mount.SeatSDMM
	}
	sum, count := 0.0, 0
	for _, r := range rows {
		if r.Strip == strip.Name && r.U != nil {
			seat := seats[versionName(r.Strip, r.StripVersion)]
			sum += max(0, *r.U**r.U-seat*seat)
			count++
		}
	}
	if count > 0 {
		n.Sensor = math.Sqrt(sum / float64(count))
	}
	return n
}

func versionName(strip string, version int) string { return fmt.Sprintf("%q %d", strip, version) }

// leastRepeatable returns the strip whose mountings repeat worst by its profile
// of now; where there is none, what is assumed of any.
func leastRepeatable(versions []logbook.Strip) device.Strip {
	worst := device.Strip{Mount: device.Mount{SeatSDMM: device.DefaultSeatSDMM}}
	for _, v := range versions {
		if v.Current && (worst.Name == "" || v.Mount.SeatSDMM > worst.Mount.SeatSDMM) {
			worst = v.Strip
		}
	}
	return worst
}

// withinMountings sorts a dancer's values by what was the same for them: foot,
// shoe, strip, mounting, support and rise. A mounting without a name is taken
// for a new one.
func withinMountings(dancer string, rows []logbook.MeasureRow) (groups [][]float64) {
	type group struct {
		foot                  device.Foot
		shoe, strip, mounting string
		recording             int64
		support, rise         string
	}
	at := map[group]int{}
	for _, r := range rows {
		if r.Dancer != dancer {
			continue
		}
		g := group{r.Foot, versionName(r.Shoe, r.ShoeVersion), r.Strip, r.Mounting, 0, r.Support, r.Rise}
		if r.Mounting == "" {
			g.recording = r.RecordingID
		}
		i, ok := at[g]
		if !ok {
			i = len(groups)
			at[g] = i
			groups = append(groups, nil)
		}
		groups[i] = append(groups[i], r.Value)
	}
	return groups
}
