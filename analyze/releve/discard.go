package releve

// Mark is a request to discard the last relevé, or to undo the last such request.
type Mark struct {
	TimeS float64 // s since the recording's first frame
	Undo  bool    // undo the last mark that is not undone
}

// ApplyMarks returns which relevés are discarded, given the time when each ended,
// s, and the marks in the order in which they were made. A mark discards the
// relevé that ended last before it, settled or not, among those not discarded
// yet.
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
