package words

// Fine writes a difference or a standard deviation with one more decimal than values, for
// numbers that are smaller than these.
func (d Display) Fine(v float64) string {
	return withUnit(Number(v*d.Scale, d.Decimals+1), d.DiffUnit)
}

// FineInterval writes an interval as Fine writes its ends.
func (d Display) FineInterval(ci [2]float64) string {
	return Number(ci[0]*d.Scale, d.Decimals+1) + " to " + Number(ci[1]*d.Scale, d.Decimals+1)
}
