package sim

import (
	"hash/fnv"
	"math/rand/v2"
)

// stream returns random numbers that depend on the seed and on their purpose, so that for
// example a strip keeps the gains of its cells from one mounting to the next while the dancer
// moves differently.
func stream(seed uint64, purpose ...string) *rand.Rand {
	h := fnv.New64a()
	for _, p := range purpose {
		h.Write([]byte(p))
		h.Write([]byte{0})
	}
	return rand.New(rand.NewPCG(seed, h.Sum64()))
}

// uniform returns a random number between lo and hi.
func uniform(rng *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*rng.Float64() }
