package stats

import (
	"math"
	"math/rand/v2"
)

// mostExact is the largest number of differences of which SignFlip counts all
// arrangements of signs.
const mostExact = 20

// signFlipDraws is the number of random arrangements of signs where there are more.
const signFlipDraws = 200_000

// Randomization is the result of a randomization test.
type Randomization struct {
	P     float64 // two-sided; NaN without a difference
	SE    float64 // standard error of P by Monte Carlo; 0 where every arrangement is counted
	Draws int     // arrangements that P is from: all 2^n, or so many that are drawn
	Exact bool    // every arrangement is counted
}

// SignFlip tests whether paired differences are symmetric about 0, by their sum under all
// 2^n arrangements of their signs (Fisher, The Design of Experiments (1935), § 21). P is
// the share of arrangements whose sum lies as far from 0 as that of the data, or further.
//
// For more than 20 differences it is the share among 200,000 random arrangements, which the
// seed determines, with the data themselves counted as one, (k + 1)/(draws + 1) (Davison
// and Hinkley, Bootstrap Methods and their Application (1997), eq. 4.11).
func SignFlip(d []float64, seed uint64) Randomization {
	if len(d) == 0 {
		return Randomization{P: math.NaN()}
	}
	size, sum := 0.0, 0.0
	for _, x := range d {
		size += math.Abs(x)
		sum += x
	}
	reached := math.Abs(sum) - 1e-12*size // sums that differ by rounding only are the same
	if n := len(d); n <= mostExact {
		// Arrangements with all signs changed have the same distance from 0.
		count := reaching(d[1:], d[0], reached)
		half := math.Ldexp(1, n-1)
		return Randomization{P: float64(count) / half, Draws: 1 << n, Exact: true}
	}
	g := rand.New(rand.NewPCG(seed, 2))
	count := 0
	for range signFlipDraws {
		s, bits := 0.0, uint64(0)
		for i, x := range d {
			if i%64 == 0 {
				bits = g.Uint64()
			}
			if bits&1 == 0 {
				x = -x
			}
			bits >>= 1
			s += x
		}
		if math.Abs(s) >= reached {
			count++
		}
	}
	p := float64(count+1) / (signFlipDraws + 1)
	return Randomization{P: p, SE: math.Sqrt(p * (1 - p) / signFlipDraws), Draws: signFlipDraws}
}

// reaching counts the arrangements of signs of d whose sum, added to a sum, lies at least
// so far from 0.
func reaching(d []float64, sum, reached float64) int {
	if len(d) == 0 {
		if math.Abs(sum) >= reached {
			return 1
		}
		return 0
	}
	return reaching(d[1:], sum+d[0], reached) + reaching(d[1:], sum-d[0], reached)
}
