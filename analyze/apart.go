package analyze

import (
	"context"

	"aplomb/device"
	"aplomb/device/recording"
)

// Apart returns the recordings at paths, as their indices, in groups that share no physical
// shoe. What Together finds in one group does not depend on the others, so groups can be
// analyzed one by one. Groups are in the order of their first recordings, and each is in
// the order of paths. A file that cannot be opened is a group of its own. Only the
// descriptions of the recordings are read.
func Apart(ctx context.Context, paths []string) (groups [][]int) {
	first := make([]int, len(paths)) // a recording of the same group before this one, or itself
	var root func(i int) int
	root = func(i int) int {
		if first[i] != i {
			first[i] = root(first[i])
		}
		return first[i]
	}
	worn := map[string]int{} // a recording with that physical shoe
	for i, path := range paths {
		first[i] = i
		src, err := recording.Open(ctx, path)
		if err != nil {
			continue
		}
		meta := src.Meta()
		src.Close()
		for _, f := range device.Feet {
			side := meta.Sides[f]
			if side == nil {
				continue
			}
			shoe := physicalShoe(meta.Dancer, side, f)
			if other, known := worn[shoe]; known {
				a, b := root(i), root(other)
				first[max(a, b)] = min(a, b)
			}
			worn[shoe] = i
		}
	}
	at := map[int]int{} // group of a root
	for i := range paths {
		r := root(i)
		if _, known := at[r]; !known {
			at[r], groups = len(groups), append(groups, nil)
		}
		groups[at[r]] = append(groups[at[r]], i)
	}
	return groups
}
