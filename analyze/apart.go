package analyze

import (
	"context"

	"aplomb/device"
	"aplomb/device/recording"
)

// Apart divides the recordings at paths, given by index, into groups that have no
// physical shoe in common. The results of Together for one group do not depend on the
// others, so groups can be analyzed one by one. Groups are in the order of their first
// recordings, and each is in the order of paths. A file that cannot be opened is a group
// of its own. Apart reads only the descriptions of the recordings.
func Apart(ctx context.Context, paths []string) (groups [][]int) {
	first := make([]int, len(paths)) // by recording: an earlier one of the same group, or itself
	var root func(i int) int
	root = func(i int) int {
		if first[i] != i {
			first[i] = root(first[i])
		}
		return first[i]
	}
	worn := map[string]int{} // by physical shoe: a recording of it
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
	at := map[int]int{} // group by root
	for i := range paths {
		r := root(i)
		if _, known := at[r]; !known {
			at[r], groups = len(groups), append(groups, nil)
		}
		groups[at[r]] = append(groups[at[r]], i)
	}
	return groups
}
