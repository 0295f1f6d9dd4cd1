package sim

import (
	"hash/fnv"
	"math/rand/v2"
)

// stream returns random numbers that depend on the seed and on what they are
// for, so that a strip keeps its cells' gains from one mounting to the next
// while the dancer moves anew.
func stream(seed uint64, purpose ...string) *rand.Rand {
	h := fnv.New64a()
	for _, p := range purpose {
		h.Write([]byte(p))
		h.Write([]byte{0})
	}
	return rand.New(rand.NewPCG(seed, h.Sum64()))
}

// between draws evenly from lo to hi.
func uniform(rng *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*rng.Float64() }
