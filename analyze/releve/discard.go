package releve

// Mark is a moment at which somebody said not to use the last relevé, or took
// that back.
type Mark struct {
	TimeS float64 // s since the recording's first frame
	Undo  bool    // the last mark that still holds no longer does
}

// Discarded says which relevés are not to be used, given when each was over, s,
// and what was marked, in the order in which it was. A mark is for the relevé
// that was over last before it, settled or not, of those not discarded already.
func ApplyMarks(ends []float64, marks []Mark) []bool {
	discarded := make([]bool, len(ends))
	var order []int
	for _, m := range marks {
		if m.Undo {
			if n := len(order); n > 0 {
				discarded[order[n-1]] = false
				order = order[:n-1]
			}
			continue
		}
		last := -1
		for i, end := range ends {
			if !discarded[i] && end <= m.TimeS && (last < 0 || end > ends[last]) {
				last = i
			}
		}
		if last >= 0 {
			discarded[last] = true
			order = append(order, last)
		}
	}
	return discarded
}
