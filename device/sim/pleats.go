package sim

import (
	"math"

	"aplomb/device/platform"
)

// pleats is the relief of the satin that is folded and pasted under the edge:
// bumps that stand out of the underside. Each is a Gaussian ridge along a line
// that points from the edge to the centre.
type pleats []fold

// fold is one bump. Its length along the radius is at least its width.
type fold struct {
	centre   platform.Point // mm
	along    platform.Point // unit vector along the ridge
	length   float64        // standard deviation along the ridge, mm
	width    float64        // standard deviation across the ridge, mm
	heightMM float64
}

// newPleats draws the folds of a shape: 5 to 8 folds and 2 to 3 round paste bumps
// at the front edge and as many at the back. The highest has the shape's height;
// the others have 40 to 100 % of it. The numbers and sizes are our assumption.
func newPleats(shape Shape) pleats {
	if shape.PleatsMM == 0 {
		return nil
	}
	rng := stream(shape.PleatSeed, "pleats")
	var all pleats
	for _, side := range []float64{-1, 1} {
		folds, bumps := 5+rng.IntN(4), 2+rng.IntN(2)
		for i := range folds + bumps {
			// Directions within 55° of straight back or straight front.
			angle := (rng.Float64() - 0.5) * 110 * math.Pi / 180
			out := platform.Point{math.Sin(angle), side * math.Cos(angle)}
			reach := shape.Outline.Reach(out)
			f := fold{along: out, heightMM: 0.4 + 0.6*rng.Float64()}
			var inset float64
			if i < folds {
				f.length, f.width = 1.5+rng.Float64(), 0.5+0.4*rng.Float64()
				inset = 1 + 2*rng.Float64()
			} else {
				f.length = 1 + rng.Float64()
				f.width = f.length
				inset = 2 + 3*rng.Float64()
			}
			f.centre = platform.Point{(reach - inset) * out[0], (reach - inset) * out[1]}
			all = append(all, f)
		}
	}
	highest := 0.0
	for _, f := range all {
		highest = max(highest, f.heightMM)
	}
	for i := range all {
		all[i].heightMM *= shape.PleatsMM / highest
	}
	return all
}

// height returns how far the relief stands out at a point, mm. Where folds meet
// the highest counts, so that no place is higher than the highest fold.
func (p pleats) height(at platform.Point) float64 {
	top := 0.0
	for i := range p {
		f := &p[i]
		dm, do := at[0]-f.centre[0], at[1]-f.centre[1]
		u := (dm*f.along[0] + do*f.along[1]) / f.length
		v := (do*f.along[0] - dm*f.along[1]) / f.width
		if r := u*u + v*v; r < 40 {
			top = max(top, f.heightMM*math.Exp(-r/2))
		}
	}
	return top
}
