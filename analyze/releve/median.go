package releve

// median returns the middle value of x, the lower of two, in linear time on
// average, and leaves x in another order (Hoare's selection, Communications of
// the ACM 4 (1961) 321-322). NaN must not be among the values; 0 for none.
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
