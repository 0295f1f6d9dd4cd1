package mounting

import "aplomb/analyze/measure"

// AssumedDOF is the number of degrees of freedom assigned to an assumption.
const AssumedDOF = 2

// assumed holds the standard deviation of the mounting effect assumed for a dancer
// without repeated mountings. All values are our assumption: there are no published data
// on differences between mountings of a strip under pointe shoes.
var assumed = map[measure.Measure]struct {
	sd       float64 // in the unit of the measure, or as a share of it
	relative bool
}{
	measure.Over:             {sd: 0.3},
	measure.Medial:           {sd: 0.3},
	measure.ContactShare:     {sd: 0.03},
	measure.KernRatio:        {sd: 0.06},
	measure.EdgeDistance:     {sd: 0.3},
	measure.OverNorm:         {sd: 0.03},
	measure.MedialNorm:       {sd: 0.02},
	measure.Load:             {sd: 0.03, relative: true},
	measure.LoadShare:        {sd: 0.01},
	measure.BackThird:        {sd: 0.02},
	measure.MiddleThird:      {sd: 0.02},
	measure.FrontThird:       {sd: 0.02},
	measure.PeakPressure:     {sd: 0.1, relative: true},
	measure.PressureTime:     {sd: 0.2, relative: true},
	measure.SwayOver:         {sd: 0.2, relative: true},
	measure.SwayMedial:       {sd: 0.2, relative: true},
	measure.SwaySpeed:        {sd: 0.2, relative: true},
	measure.SwayEllipse:      {sd: 0.4, relative: true},
	measure.OverChange:       {sd: 0.2},
	measure.PeakOverChange:   {sd: 0.3},
	measure.PeakMedialChange: {sd: 0.3},
	measure.HoldTime:         {sd: 0.2, relative: true},
}

// assumption returns the assumption for a measure as a stratum without relevés and seats.
func assumption(m measure.Measure) stratum {
	sd := assumed[m].sd
	return stratum{dof: AssumedDOF, between: sd * sd}
}
