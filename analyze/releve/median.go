package releve

// lowerMedian returns the median of x, the lower of the two middle values of an
// even number, in linear time on average; it reorders x (Hoare's selection,
// Communications of the ACM 4 (1961) 321-322). x must not contain NaN. It is 0
// for an empty x.
func lowerMedian(x []float32) float32 {
	if len(x) == 0 {
		return 0
	}
	k := (len(x) - 1) / 2
	lo, hi := 0, len(x)-1
	for lo < hi {
		pivot := x[lo+(hi-lo)/2]
		i, j := lo, hi
		for i <= j {
			for x[i] < pivot {
				i++
			}
			for x[j] > pivot {
				j--
			}
			if i <= j {
				x[i], x[j] = x[j], x[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return x[k]
		}
	}
	return x[lo]
}
