package cells

// digitMoves is how often a higher digit must have changed before a lower digit
// that never changed counts as stuck. A working digit changes in every second of
// these steps, so that the probability of a false finding is 2⁻³².
const digitMoves = 32

// frozenDigits returns, as a bit mask, the binary digits of a cell's counts that
// never changed although higher ones did at least digitMoves times.
func (s *cellState) frozenDigits(adcBits int) (digits uint16) {
	higher := uint32(0)
	for b := adcBits - 1; b >= 0; b-- {
		// stepsByTopBit[b+1] counts the steps whose highest changed digit is b.
		if higher >= digitMoves && s.changedBits&(1<<b) == 0 {
			digits |= 1 << b
		}
		higher += s.stepsByTopBit[b+1]
	}
	return digits
}

// frozenInAll returns the digits that are frozen in every cell that changed often
// enough to judge; 0 with fewer than two such cells.
func (w *Monitor) frozenInAll() uint16 {
	all, judged := uint16(0xFFFF), 0
	for k := range w.cells {
		s := &w.cells[k]
		if s.stuck || s.stepsAboveLowest() < digitMoves {
			continue
		}
		judged++
		all &= s.frozenDigits(w.strip.ADCBits)
	}
	if judged < 2 {
		return 0
	}
	return all
}

// stepsAboveLowest counts the steps that changed a digit above the lowest.
func (s *cellState) stepsAboveLowest() (steps uint32) {
	for _, n := range s.stepsByTopBit[2:] {
		steps += n
	}
	return steps
}
