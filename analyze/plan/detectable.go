package plan

import (
	"math"
	"slices"

	"aplomb/analyze/mounting"
	"aplomb/analyze/stats"
	"aplomb/device"
)

// targetPower is the probability with which a detectable difference is called
// clear.
const targetPower = 0.8

// AssumedScatterMM is the standard deviation of over between relevés in one
// mounting, mm, assumed for a dancer without recordings: our own assumption.
const AssumedScatterMM = 1.0

// Noise is the variation that limits the detection of a difference between two
// shoes, in the unit of the measure.
type Noise struct {
	Scatter    float64         // standard deviation of relevés within a mounting
	ScatterDOF float64         // degrees of freedom of Scatter; 0 where it is assumed
	Seat       float64         // standard deviation due to mounting the strip anew
	SeatDOF    float64         // degrees of freedom of Seat
	Assumed    bool            // Seat is assumed, not measured
	Pressed    bool            // Seat is that of earlier mountings with a pad press, which measures the seat
	Effect     mounting.Effect // other differences between mountings
	Strip      string          // name of the strip that Seat belongs to, "" where it is not known
	Sensor     float64         // standard uncertainty of any difference due to the strip, for any number of mountings
}

// NoiseOver returns the noise of over, mm, from the dancer's relevés so far,
// soFar[mounting][relevé] in mm, the mounting repeatability of the strip, and the mounting
// effect.
func NoiseOver(soFar [][]float64, mount device.Mount, effect mounting.Effect) Noise {
	n := Noise{Scatter: AssumedScatterMM, Seat: mount.SeatSDMM, SeatDOF: mount.SeatDOF(), Assumed: mount.SeatMountings == 0, Effect: effect}
	if sd, dof := stats.PooledSD(soFar); dof > 0 {
		n.Scatter, n.ScatterDOF = sd, dof
	}
	return n
}

// DetectableDifference is the difference that a number of mountings and relevés of each
// shoe can detect, in the unit of the measure.
type DetectableDifference struct {
	Mountings, Releves int     // mountings of each shoe, relevés in each mounting
	U                  float64 // standard uncertainty of a difference between two shoes
	DOF                float64 // effective degrees of freedom of U
	// Difference is the smallest true difference between two shoes that is called clear
	// on one foot with a probability of 80 %; +Inf where there is no interval.
	Difference float64
}

// Detect returns the standard uncertainty of a difference between two shoes for a number
// of mountings of each and of relevés in each mounting, and the smallest difference that
// can be detected when tests differences are tested jointly.
//
// U² = 2·scatter²/(releves·mountings) + 2·(seat² + effect²)/mountings + sensor², as in
// package compare, with effective degrees of freedom by Welch-Satterthwaite
// (stats.EffectiveDOF). The difference is that of a two-sided t-test with 80 % power
// (stats.Detectable) at 5 % ÷ tests, the level at which Holm's adjustment calls the first
// of that many differences clear, whatever the others are. Scatter, seat and effect are
// treated as exact; if they were estimated with few degrees of freedom, the result is
// uncertain as well. What the planned mountings will reveal about the effect is not taken
// into account.
func Detect(mountings, releves, tests int, n Noise) DetectableDifference {
	m, r := float64(mountings), float64(releves)
	scatter := stats.Component{U: n.Scatter / math.Sqrt(m*r), DOF: m * (r - 1)}
	if releves == 1 {
		// The scatter is then estimated between mountings and contains that of mounting.
		scatter = stats.Component{U: math.Hypot(n.Scatter, n.mounting().U) / math.Sqrt(m), DOF: m - 1}
	}
	one := n.mounting()
	parts := []stats.Component{
		scatter, scatter,
		{U: one.U * math.Sqrt(2/m), DOF: one.DOF},
		{U: n.Sensor, DOF: math.Inf(1)},
	}
	s := DetectableDifference{Mountings: mountings, Releves: releves, U: stats.Combined(parts...), DOF: stats.EffectiveDOF(parts...)}
	s.Difference = math.Inf(1)
	if scatter.DOF > 0 {
		s.Difference = s.U * stats.Detectable(targetPower, s.DOF, 0.05/float64(tests))
	}
	return s
}

// mounting returns the contribution of one mounting: seat and mounting effect.
func (n Noise) mounting() stats.Component {
	return n.Effect.Share(1).With(stats.Component{U: n.Seat, DOF: n.SeatDOF})
}

// DetectableDifference returns what the plan can detect.
func (p Plan) DetectableDifference(n Noise) DetectableDifference {
	return Detect(p.Mountings, p.Releves, p.tests(), n)
}

// tests returns the number of differences in over that are tested jointly: both feet, and
// every pair of shoes.
func (p Plan) tests() int {
	k := len(p.Shoes)
	return max(1, k*(k-1))
}

// Alternatives returns what larger plans can detect, the smallest difference
// first: with three more relevés in each mounting or twice as many, and with one
// more mounting of each shoe or twice as many.
func (p Plan) Alternatives(n Noise) []DetectableDifference {
	var out []DetectableDifference
	for _, s := range [][2]int{
		{p.Mountings, p.Releves + 3}, {p.Mountings, 2 * p.Releves},
		{p.Mountings + 1, p.Releves}, {2 * p.Mountings, p.Releves},
	} {
		same := func(o DetectableDifference) bool { return o.Mountings == s[0] && o.Releves == s[1] }
		if !slices.ContainsFunc(out, same) {
			out = append(out, Detect(s[0], s[1], p.tests(), n))
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
