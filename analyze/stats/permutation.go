package stats

import (
	"math"
	"math/rand/v2"
)

const (
	maxExactSigns      = 40        // pairs: two lists of 2²⁰ half sums, 16 MB
	maxExactGroupings  = 1_000_000 // groupings counted one by one
	randomArrangements = 100_000   // drawn otherwise; the standard error of p is then at most 0.0016
	seedHigh, seedLow  = 1935, 21  // fixed, so that the same data always give the same p
	relativeTie        = 1e-11     // sums that differ by less than this share of Σ|d| count as equal
)

// SignFlip is the two-sided sign-flip permutation test of the hypothesis that the
// paired differences d are symmetric about 0 (Fisher, The Design of Experiments
// (1935), § 21). Under it every sign is equally likely, so p is the share of the
// 2ⁿ arrangements of signs whose sum is at least as far from 0 as the observed
// one. It is exact for up to 40 differences: p = reached ÷ total. For more
// differences it uses 100,000 random arrangements with a fixed seed, and
// p = (reached + 1) ÷ (total + 1). Without differences p is 1; p is NaN where a
// difference is not finite.
func SignFlip(d []float64) (p float64, reached, total int64) {
	var sum, size float64
	for _, x := range d {
		sum += x
		size += math.Abs(x)
	}
	if math.IsNaN(size) || math.IsInf(size, 0) {
		return math.NaN(), 0, 0
	}
	reach := math.Abs(sum) - relativeTie*size
	if len(d) <= maxExactSigns {
		a, b := signedSums(d[:len(d)/2]), signedSums(d[len(d)/2:])
		total = int64(1) << len(d)
		reached = total - countWithin(a, b, reach)
		return float64(reached) / float64(total), reached, total
	}
	rng := rand.New(rand.NewPCG(seedHigh, seedLow))
	p, reached = randomTest(func() bool {
		s := 0.0
		for i := 0; i < len(d); i += 64 {
			bits := rng.Uint64()
			for _, x := range d[i:min(i+64, len(d))] {
				s += math.Copysign(1, float64(bits&1)-0.5) * x
				bits >>= 1
			}
		}
		return math.Abs(s) >= reach
	})
	return p, reached, randomArrangements
}

// signedSums returns Σ ±d over all 2ⁿ arrangements of signs in rising order. Each
// further difference merges the list shifted down with the list shifted up, so
// that no sort is needed (Horowitz & Sahni, Journal of the ACM 21 (1974) 277-292).
func signedSums(d []float64) []float64 {
	sums := []float64{0}
	for _, x := range d {
		x = math.Abs(x)
		next := make([]float64, 0, 2*len(sums))
		i, j := 0, 0
		for i < len(sums) || j < len(sums) {
			if j == len(sums) || (i < len(sums) && sums[i]-x <= sums[j]+x) {
				next = append(next, sums[i]-x)
				i++
			} else {
				next = append(next, sums[j]+x)
				j++
			}
		}
		sums = next
	}
	return sums
}

// countWithin counts the pairs, one of each sorted list, with |x + y| < reach.
func countWithin(xs, ys []float64, reach float64) int64 {
	n := int64(0)
	lo, hi := len(ys), len(ys) // ys[lo:hi] are the partners of x; both ends fall as x rises
	for _, x := range xs {
		for hi > 0 && x+ys[hi-1] >= reach {
			hi--
		}
		for lo > 0 && x+ys[lo-1] > -reach {
			lo--
		}
		n += int64(max(0, hi-lo))
	}
	return n
}

// PermuteGroups is the two-sided permutation test of the hypothesis that two
// groups have the same distribution, with the difference of means as statistic
// (Pitman, Supplement to the Journal of the Royal Statistical Society 4 (1937)
// 119-130): p is the share of all groupings into these two sizes whose difference
// of means is at least as far from 0 as the observed one. Values must be
// exchangeable, one for each independent unit. It is exact for up to 1,000,000
// groupings; for more it uses 100,000 random groupings with a fixed seed. An
// empty group gives 1; p is NaN where a value is not finite.
func PermuteGroups(a, b []float64) (p float64) {
	all := append(append(make([]float64, 0, len(a)+len(b)), a...), b...)
	mean := 0.0
	for _, x := range all {
		mean += x / float64(len(all))
	}
	size := 0.0
	for i := range all {
		all[i] -= mean
		size += math.Abs(all[i])
	}
	if math.IsNaN(size) || math.IsInf(size, 0) {
		return math.NaN()
	}
	// About the common mean the sums of the two groups are opposite, so the
	// difference of means is proportional to the sum of either; the smaller is used.
	small := all[:len(a)]
	if len(b) < len(a) {
		small = all[len(a):]
	}
	reach := math.Abs(sumOf(small)) - relativeTie*size
	k := len(small)
	if total := binomial(len(all), k); total <= maxExactGroupings {
		return float64(countGroupings(all, k, 0, reach)) / total
	}
	rng := rand.New(rand.NewPCG(seedHigh, seedLow))
	p, _ = randomTest(func() bool {
		for i := range k { // the first k steps of a Fisher-Yates shuffle
			j := i + rng.IntN(len(all)-i)
			all[i], all[j] = all[j], all[i]
		}
		return math.Abs(sumOf(all[:k])) >= reach
	})
	return p
}

// countGroupings counts the ways to add k of the values to sum so that the
// result is at least reach from 0.
func countGroupings(values []float64, k int, sum, reach float64) int64 {
	if k == 0 {
		if math.Abs(sum) >= reach {
			return 1
		}
		return 0
	}
	n := int64(0)
	for i := 0; i+k <= len(values); i++ {
		n += countGroupings(values[i+1:], k-1, sum+values[i], reach)
	}
	return n
}

// randomTest counts how often a random arrangement reaches the observed statistic
// and returns the p-value (reached + 1) ÷ (draws + 1). The data are an arrangement of their
// own, hence the 1 in both counts, without which p could be 0 (Phipson & Smyth,
// Statistical Applications in Genetics and Molecular Biology 9 (2010), article 39).
func randomTest(reaches func() bool) (p float64, reached int64) {
	for range randomArrangements {
		if reaches() {
			reached++
		}
	}
	return float64(reached+1) / (randomArrangements + 1), reached
}

func sumOf(x []float64) (sum float64) {
	for _, v := range x {
		sum += v
	}
	return sum
}

// binomial returns n over k, as a float64 so that it cannot overflow.
func binomial(n, k int) float64 {
	c := 1.0
	for i := 1; i <= k; i++ {
		c = math.Round(c * float64(n-k+i) / float64(i))
	}
	return c
}
