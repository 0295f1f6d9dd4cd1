package plan

import (
	"math"
	"slices"

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
	Scatter    float64 // standard deviation of relevés within a mounting
	ScatterDOF float64 // degrees of freedom of Scatter; 0 where it is assumed
	Seat       float64 // standard deviation due to mounting the strip anew
	SeatDOF    float64 // degrees of freedom of Seat
	Assumed    bool    // Seat is assumed, not measured
	Strip      string  // name of the strip that Seat belongs to, "" where it is not known
	Sensor     float64 // standard uncertainty of any difference due to the strip, for any number of mountings
}

// NoiseOver returns the noise of over, mm, from the dancer's relevés so far,
// soFar[mounting][relevé] in mm, and the mounting repeatability of the strip.
func NoiseOver(soFar [][]float64, mount device.Mount) Noise {
	n := Noise{Scatter: AssumedScatterMM, Seat: mount.SeatSDMM, SeatDOF: mount.SeatDOF(), Assumed: mount.SeatMountings == 0}
	if sd, dof := stats.PooledSD(soFar); dof > 0 {
		n.Scatter, n.ScatterDOF = sd, dof
	}
	return n
}

// DetectableDifference is what a number of mountings and relevés of each shoe can
// detect, in the unit of the measure.
type DetectableDifference struct {
	Mountings, Releves int     // mountings of each shoe, relevés in each mounting
	U                  float64 // standard uncertainty of a difference between two shoes
	DOF                float64 // effective degrees of freedom of U
	// Difference is the smallest true difference between two shoes whose 95 % interval
	// excludes 0 with a probability of 80 %; +Inf where there is no interval.
	Difference float64
}

// Detect returns the standard uncertainty of a difference between two shoes for a
// number of mountings of each and of relevés in each mounting, and the smallest
// difference that can be detected.
//
// U² = 2·scatter²/(releves·mountings) + 2·seat²/mountings + sensor², as in
// package compare, with effective degrees of freedom by Welch-Satterthwaite
// (stats.EffectiveDOF). The difference is that of a two-sided t-test at 5 % with
// 80 % power (stats.Detectable). Scatter and seat are taken as exact; if they
// were estimated with few degrees of freedom, the result is uncertain as well.
func Detect(mountings, releves int, n Noise) DetectableDifference {
	m, r := float64(mountings), float64(releves)
	scatter := stats.Component{U: n.Scatter / math.Sqrt(m*r), DOF: m * (r - 1)}
	if releves == 1 {
		// The scatter is then estimated between mountings and contains that of mounting.
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

// DetectableDifference returns what the plan can detect.
func (p Plan) DetectableDifference(n Noise) DetectableDifference {
	return Detect(p.Mountings, p.Releves, n)
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
