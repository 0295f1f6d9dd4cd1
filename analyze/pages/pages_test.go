package pages_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/analyze/pages"
)

// Whatever the system does about it, it is room like any other.
func TestRoom(t *testing.T) {
	for _, n := range []int{0, 1, 1000, 1 << 18, 1<<20 + 17} {
		s := pages.Room[float64](n)
		assert.Empty(t, s)
		assert.Equal(t, n, cap(s))
		for i := range n {
			s = append(s, float64(i))
		}
		for i, v := range s {
			if v != float64(i) {
				t.Fatalf("%g at %d of %d", v, i, n)
			}
		}
	}
}
