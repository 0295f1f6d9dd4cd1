package plan

import (
	"math"
	"slices"

	"aplomb/analyze/stats"
	"aplomb/device"
)

// power is the chance that a plan is asked to give a difference of being called clear.
const targetPower = 0.8

// AssumedScatterMM is how much the over of relevés in one mounting is taken to
// scatter for a dancer of whom nothing is known: our own assumption, in mm.
const AssumedScatterMM = 1.0

// Noise is what keeps a difference between two shoes from being seen, all in
// the unit of the measure.
type Noise struct {
	Scatter    float64 // standard deviation of relevés within a mounting
	ScatterDOF float64 // 0 where it is assumed
	Seat       float64 // standard deviation that fixing the strip anew adds
	SeatDOF    float64
	Assumed    bool    // Seat is assumed, not measured
	Strip      string  // whose seat it is, "" where no strip is known
	Sensor     float64 // standard uncertainty that the strip adds to any difference, however often it is mounted
}

// NoiseOver is the noise of over in mm: the scatter of the dancer's relevés so
// far, given mounting by mounting, and the repeatability of the strip's mounting.
func NoiseOver(soFar [][]float64, mount device.Mount) Noise {
	n := Noise{Scatter: AssumedScatterMM, Seat: mount.SeatSDMM, SeatDOF: mount.SeatDOF(), Assumed: mount.SeatMountings == 0}
	if sd, dof := stats.PooledSD(soFar); dof > 0 {
		n.Scatter, n.ScatterDOF = sd, dof
	}
	return n
}

// Sight is what so many mountings and relevés of each shoe can show.
type DetectableDifference struct {
	Mountings, Releves int     // mountings of each shoe, relevés in each mounting
	U                  float64 // standard uncertainty of a difference between two shoes
	DOF                float64 // effective degrees of freedom of U
	// Difference is the smallest true difference between two shoes whose 95 %
	// interval will exclude 0 four times in five; +Inf where there will be no interval.
	Difference float64
}

// See returns what a difference between two shoes is uncertain by when each is
// mounted and risen in so often, and the smallest that can be seen.
//
// U² = 2·scatter²/(releves·mountings) + 2·seat²/mountings + sensor², as a
// comparison will find it, its degrees of freedom by Welch-Satterthwaite. The
// difference is what a two-sided t-test at 5 % calls with 80 % power (see
// stats.Detectable). Scatter and seat are taken to be what they are said to be;
// where they were themselves estimated from little, so is the answer.
func Detect(mountings, releves int, n Noise) DetectableDifference {
	m, r := float64(mountings), float64(releves)
	scatter := stats.Component{U: n.Scatter / math.Sqrt(m*r), DOF: m * (r - 1)}
	if releves == 1 {
		// The scatter then comes from between mountings, and holds theirs too.
		scatter = stats.Component{U: math.Hypot(n.Scatter, n.Seat) / math.Sqrt(m), DOF: m - 1}
	}
	parts := []stats.Component{
		scatter, scatter,
		{U: n.Seat * math.Sqrt(2/m), DOF: n.SeatDOF},
		{U: n.Sensor, DOF: math.Inf(1)},
	}
	s := DetectableDifference{Mountings: mountings, Releves: releves, U: stats.Combined(parts...), DOF: stats.EffectiveDOF(parts...)}
	s.Difference = math.Inf(1)
	if scatter.DOF > 0 {
		s.Difference = s.U * stats.Detectable(targetPower, s.DOF)
	}
	return s
}

// Sees returns what the plan can show.
func (p Plan) DetectableDifference(n Noise) DetectableDifference { return Detect(p.Mountings, p.Releves, n) }

// More returns what doing more of either would show, the best first: three
// relevés more in each mounting or twice as many, one mounting more of each shoe
// or twice as many.
func (p Plan) Alternatives(n Noise) []DetectableDifference {
	var out []DetectableDifference
	for _, s := range [][2]int{
		{p.Mountings, p.Releves + 3}, {p.Mountings, 2 * p.Releves},
		{p.Mountings + 1, p.Releves}, {2 * p.Mountings, p.Releves},
	} {
		same := func(o DetectableDifference) bool { return o.Mountings == s[0] && o.Releves == s[1] }
		if !slices.ContainsFunc(out, same) {
			out = append(out, Detect(s[0], s[1], n))
		}
	}
	slices.SortStableFunc(out, func(a, b DetectableDifference) int {
		switch {
		case a.Difference < b.Difference:
			return -1
		case a.Difference > b.Difference:
			return 1
		}
		return 0
	})
	return out
}
