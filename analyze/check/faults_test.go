package check

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"aplomb/analyze/cells"
)

func TestPlaces(t *testing.T) {
	all := func(in ...[2]int) (group []cells.Cell) {
		for _, c := range in {
			group = append(group, cells.Cell{Row: c[0], Col: c[1]})
		}
		return group
	}
	assert.Equal(t, "row 1, column 3", places(all([2]int{0, 2}), 3, 4))
	assert.Equal(t, "row 1, columns 1 3; row 3, column 4", places(all([2]int{0, 0}, [2]int{0, 2}, [2]int{2, 3}), 3, 4))
	assert.Equal(t, "all of row 2", places(all([2]int{1, 0}, [2]int{1, 1}, [2]int{1, 2}, [2]int{1, 3}), 3, 4))
	assert.Equal(t, "all of column 2; row 1, column 4", places(all([2]int{0, 1}, [2]int{0, 3}, [2]int{1, 1}, [2]int{2, 1}), 3, 4))
	var diagonal []cells.Cell
	for i := range 8 {
		diagonal = append(diagonal, cells.Cell{Row: i, Col: i})
	}
	assert.Equal(t, "row 1, column 1; row 2, column 2; row 3, column 3; row 4, column 4; row 5, column 5; and 3 more", places(diagonal, 8, 8))
}

// Every kind of fault has a text. Faults that can be harmless are grave only if they
// affect a measure.
func TestMeaning(t *testing.T) {
	none, much := faultEffect{inside: 1}, faultEffect{load: 0.03, shift: 0.4, share: 0.5, inside: 1}
	for _, kind := range cells.FaultKinds {
		means, _ := meaning(kind, "left", much, 1)
		assert.NotEmpty(t, means, kind)
	}
	for _, c := range []struct {
		kind       cells.FaultKind
		none, much bool
	}{
		{cells.Dead, true, true}, {cells.Stuck, true, true}, {cells.StuckBit, false, true}, {cells.Noisy, false, true},
		{cells.Saturated, false, true}, {cells.Silent, false, false}, {cells.Offset, false, false},
	} {
		_, grave := meaning(c.kind, "left", none, 1)
		assert.Equal(t, c.none, grave, "%s that does nothing", c.kind)
		_, grave = meaning(c.kind, "left", much, 1)
		assert.Equal(t, c.much, grave, "%s that does much", c.kind)
	}
	_, grave := meaning(cells.Stuck, "left", faultEffect{load: 0.03}, 1)
	assert.False(t, grave, "beside the platform")
	_, grave = meaning(cells.NeverAtRest, "left", none, 0)
	assert.False(t, grave, "nothing measured")
	means, _ := meaning(cells.Dead, "right", much, 1)
	assert.Equal(t, "3 % of the load is not measured, which would move over and medial by up to 0.4 mm: analyze fills it from the other cells where it can, and says how sure that is", means)
}
