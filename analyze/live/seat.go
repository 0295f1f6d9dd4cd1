package live

import (
	"math"

	"aplomb/analyze/cells"
	"aplomb/analyze/field"
	"aplomb/analyze/releve"
	"aplomb/analyze/seat"
	"aplomb/device"
	"aplomb/device/platform"
)

// pressMap is a map of a tenth of a second under load.
type pressMap struct {
	ns int64 // host clock at its middle, ns since 1970
	m  seat.Map
}

// mostPressMaps is the largest number of maps from which a seat is estimated. Of more
// maps an evenly spaced subset is used, because all of them would take longer without
// improving the estimate.
const mostPressMaps = 30

// keepMaps keeps the maps of a pulse, which may turn out to be a pad press.
func (f *footFollower) keepMaps(p releve.Pulse) {
	maps, times := f.tail.Maps(p.OnsetS, p.OnsetS, p.EndS)
	counts := f.tail.Noise()
	for i, m := range maps {
		sum := 0.0
		for k, kPa := range m.KPa {
			sd := counts[k] * f.curve.PerCount(k, f.curve.Counts(k, kPa))
			sum += sd * sd / float64(m.Frames)
		}
		noise := math.Sqrt(sum / float64(len(m.KPa)))
		f.pressed = append(f.pressed, pressMap{int64(f.tail.Host(times[i])), seat.Map{Kind: seat.Press, KPa: m.KPa, NoiseKPa: noise}})
	}
}

// Settled reports whether every load of a foot has been divided into pulses: the foot has
// been unloaded for long enough.
func (w *Follower) Settled(f device.Foot) bool { return !w.feet[f].loaded }

// FindSeat estimates the seat of a strip from a press that was added by AddPress, once
// the foot is Settled and before the next OpenPress. Where the estimate succeeds, later
// relevés of that foot are measured at that seat; earlier ones do not change. It takes
// some hundredths of a second. ok is false where the profile of the strip states the seat
// as exact.
func (w *Follower) FindSeat(p Press) (found seat.Seat, ok bool) {
	f := w.feet[p.Foot]
	if f.profile.SeatSDMM == 0 {
		return found, false
	}
	in := f.pressInput(p)
	if found = seat.Find(in); found.Evidence != seat.FromPress {
		return found, true
	}
	strip := in.Strip
	strip.Mount.OffsetMM, strip.Mount.RotationDeg = found.Offset, found.RotationDeg
	f.strip, f.seat = strip, &found
	f.grid = field.New(f.strip, found.Bearing)
	return found, true
}

// PressOff returns the difference between the bearing outline estimated from a press and
// the outline of a platform, mm: the root of the sum of the squares of the growths of
// half-width and half-depth. FindSeat must have been called for the press. ok is false
// where the press does not fit the outline at all.
func (w *Follower) PressOff(p Press, outline platform.Polygon) (mm float64, ok bool) {
	in := w.feet[p.Foot].pressInput(p)
	in.Outline = outline
	found := seat.Find(in)
	return OutlineOff(found), found.Evidence == seat.FromPress
}

// DoubtMM is the difference of PressOff, mm, between the named shoe and a better-fitting
// one above which the user is asked which shoe it is. It is our own choice: with
// simulated presses it detects two thirds of swapped platforms that differ by 2 mm in
// width or depth, and raises a false doubt for three shoes in a hundred.
const DoubtMM = 0.5

// TwinMM is the difference in width or depth, mm, above which a press usually
// distinguishes two platforms: four in five of them with simulated presses.
const TwinMM = 3

// OutlineOff returns the distance of PressOff for an estimated seat.
func OutlineOff(found seat.Seat) float64 {
	return math.Hypot(found.Outline.HalfWidth.Value, found.Outline.HalfDepth.Value)
}

// pressInput returns the input for estimating the seat from a press, under the platform
// that the recording names.
func (f *footFollower) pressInput(p Press) seat.Input {
	strip := *f.strip
	strip.Mount = f.profile
	in := seat.Input{Strip: &strip, Outline: f.outline, GainSD: strip.Calibration.GainSD}
	for _, b := range f.faults {
		if b.Cell != cells.WholeStrip && (b.Kind == cells.Dead || b.Kind == cells.Stuck) {
			if in.Lost == nil {
				in.Lost = make([]bool, strip.Cells())
			}
			for k := range in.Lost {
				if row, col := strip.RowCol(k); row == b.Cell.Row && col == b.Cell.Col {
					in.Lost[k] = true
				}
			}
		}
	}
	var maps []seat.Map
	for _, m := range f.pressed {
		if m.ns >= p.FromNS && m.ns <= p.ToNS {
			maps = append(maps, m.m)
		}
	}
	n := min(len(maps), mostPressMaps)
	for i := range n {
		in.Maps = append(in.Maps, maps[i*len(maps)/n])
	}
	return in
}

// Seated reports whether the seat of a foot's strip has been estimated from a pad press.
func (w *Follower) Seated(f device.Foot) bool { return w.feet[f].seat != nil }

// seatSD returns the standard uncertainties of the strip's seat during a hold along
// medial and over, mm, with their degrees of freedom.
func (f *footFollower) seatSD() (sd platform.Point, dof float64) {
	if f.seat == nil {
		return platform.Point{f.profile.SeatSDMM, f.profile.SeatSDMM}, f.profile.SeatDOF()
	}
	moved := seat.DefaultMoveSDMM * seat.DefaultMoveSDMM
	return platform.Point{math.Sqrt(f.seat.Cov[0][0] + moved), math.Sqrt(f.seat.Cov[1][1] + moved)}, math.Inf(1)
}

// at returns the present centre of pressure with the strip at its present seat, mm; NaN
// where it is not defined.
func (f *footFollower) at() platform.Point {
	p := platform.Point{float64(f.now.MedialMM), float64(f.now.OverMM)}
	if f.seat == nil {
		return p
	}
	sin, cos := math.Sincos((f.seat.RotationDeg - f.profile.RotationDeg) * math.Pi / 180)
	x, y := p[0]-f.profile.OffsetMM[0], p[1]-f.profile.OffsetMM[1]
	return platform.Point{f.seat.Offset[0] + cos*x - sin*y, f.seat.Offset[1] + sin*x + cos*y}
}
