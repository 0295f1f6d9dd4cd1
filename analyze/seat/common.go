package seat

import (
	"math"

	"aplomb/device/platform"
)

// common returns the standard deviations, mm along medial and over, of the part of a
// seat's error that all mountings of one physical shoe have in common: the model's errors
// of press and holds, which depend on the shape of the shoe, each weighted by the weight
// of that evidence in the seat. In a weighted mean of independent estimates the weight of
// one is the variance of the mean ÷ the variance of that estimate. e are the model's
// errors of the evidence.
func (s *Seat) common(press, holds *found, e *modelErrors) (sd platform.Point) {
	for i := range sd {
		variance := s.Cov[i][i]
		switch {
		case press != nil && holds != nil:
			_, of := holds.seat(&afterError)
			part := min(1, variance/of.At(i, i))
			sd[i] = math.Sqrt((1-part)*(1-part)*e.variance(press.scale)[i] + part*part*afterError.variance(holds.scale)[i])
		case press != nil:
			sd[i] = math.Sqrt(e.variance(press.scale)[i])
		case holds != nil:
			_, of := holds.seat(e)
			sd[i] = min(1, variance/of.At(i, i)) * math.Sqrt(e.variance(holds.scale)[i])
		}
		sd[i] = min(sd[i], math.Sqrt(variance))
	}
	return sd
}
