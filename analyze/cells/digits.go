package cells

// digitMoves is how often a higher digit must have changed before a lower one
// that never did is taken for stuck: a healthy one changes in every other of
// these, so that the chance of its staying put is 2⁻³².
const digitMoves = 32

// frozenDigits returns which binary digits of a cell's counts never changed
// although higher ones did.
func (s *cellState) frozenDigits(adcBits int) (digits uint16) {
	higher := uint32(0)
	for b := adcBits - 1; b >= 0; b-- {
		// tops[b+1] counts the steps whose highest changed digit is b.
		if higher >= digitMoves && s.changedBits&(1<<b) == 0 {
			digits |= 1 << b
		}
		higher += s.stepsByTopBit[b+1]
	}
	return digits
}

// coarse returns the digits that are frozen in every cell in which that can be told.
func (w *Monitor) frozenInAll() uint16 {
	all, told := uint16(0xFFFF), 0
	for k := range w.cells {
		s := &w.cells[k]
		if s.stuck || s.stepsAboveLowest() < digitMoves {
			continue
		}
		told++
		all &= s.frozenDigits(w.strip.ADCBits)
	}
	if told < 2 {
		return 0
	}
	return all
}

// highest counts the steps of more than one digit.
func (s *cellState) stepsAboveLowest() (steps uint32) {
	for _, n := range s.stepsByTopBit[2:] {
		steps += n
	}
	return steps
}
