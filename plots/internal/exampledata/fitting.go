// Package exampledata is test support: it generates results and comparisons for the tests
// of pictures and reports. Its numbers are random and not from any strip or dancer. They
// test that everything is drawn, not that measurements are correct.
package exampledata

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/platform"
)

// Fitting contains the results of one dancer in some shoes, with their comparison.
type Fitting struct {
	Results    []*measure.Result
	Comparison *compare.Comparison
}

// ShoeCase is one shoe with the position of the load in it.
type ShoeCase struct {
	Shoe    device.Shoe
	At      [2]platform.Point  // mean centre of pressure by foot, medial and over in mm
	Verdict [2]measure.Verdict // by foot
}

// In shoe A the load sits well behind the kern, in shoe B near the centre.
var (
	A = ShoeCase{
		Shoe: device.Shoe{Code: "A", PlatformMM: [2]float64{34, 21}, OutlineExponent: 2.4,
			Box: "tapered", CrownMM: 22, Shank: "soft", ShankLength: "full", Padding: "none", HoursWorn: 4},
		At:      [2]platform.Point{{-1.4, -6.4}, {-0.6, -5.6}},
		Verdict: [2]measure.Verdict{measure.PulledBack, measure.PulledBack},
	}
	B = ShoeCase{
		Shoe: device.Shoe{Code: "B", PlatformMM: [2]float64{38, 23}, OutlineExponent: 3.2,
			Box: "square", CrownMM: 27, Shank: "hard", ShankLength: "three-quarter", Padding: "none", HoursWorn: 1},
		At:      [2]platform.Point{{-0.5, -0.7}, {0.6, 0.4}},
		Verdict: [2]measure.Verdict{measure.OverTheBox, measure.OverTheBox},
	}
)

// Usual returns a fitting of the shoes A and B: both feet, two mountings of six
// relevés for each shoe, one relevé aborted.
func Usual() Fitting { return New(2, 6, device.Feet[:], A, B) }

// New returns a fitting with a number of mountings for each shoe and of relevés for
// each mounting, on the given feet. The same arguments give the same fitting.
func New(mountings, releves int, feet []device.Foot, cases ...ShoeCase) Fitting {
	rnd := rand.New(rand.NewPCG(1, 2))
	var f Fitting
	for _, s := range cases {
		for m := range mountings {
			f.Results = append(f.Results, result(rnd, s, m, releves, feet))
		}
	}
	for i, r := range f.Results {
		r.Meta.Started = r.Meta.Started.Add(time.Duration(i) * 10 * time.Minute)
	}
	f.Comparison = comparison(f.Results, cases, feet, mountings)
	return f
}

// loadFloorN is the load below which a sample has no centre of pressure, N.
const loadFloorN = 25

func strip(foot device.Foot) *device.Strip {
	name := map[device.Foot]string{device.Left: "L-01", device.Right: "R-01"}[foot]
	return &device.Strip{
		Name: name, Foot: foot, Rows: 5, Cols: 8, PitchMM: [2]float64{5, 5}, CellMM: [2]float64{5, 5},
		ADCBits: 12, SaturatesAt: 4095, FirstCell: "back-lateral", Scan: "rows",
		Mount:       device.Mount{SeatSDMM: device.DefaultSeatSDMM},
		Calibration: device.Calibration{KPaPerCount: 0.75, GainSD: device.DefaultGainSD},
	}
}

func platformOf(s *device.Shoe, st *device.Strip) measure.Platform {
	o := s.Outline()
	return measure.Platform{AreaMM2: o.Area(), Kern: o.Kern(), Covered: st.CoveredShare(o), Outline: o}
}

func result(rnd *rand.Rand, s ShoeCase, mounting, releves int, feet []device.Foot) *measure.Result {
	r := &measure.Result{
		Recording: measure.Recording{File: fmt.Sprintf("%s-%d.mcap", s.Shoe.Code, mounting+1), Dancer: "D-07"},
		Settings: measure.Settings{Version: "0.1.0", LoadFloorN: loadFloorN, OnsetShare: 0.1, EndShare: 0.07, HoldWithin: 0.15,
			HoldAtLeastS: 0.5, DipShorterThanS: 0.15, SwayLowPassHz: 10, SwayResampledHz: 100, SwayWindowS: 2,
			InsideFrom: 0.95, OutsideUpTo: 0.05, OffOutlineWarn: 0.03, PlatformFlatWarn: 0.9},
		Meta: device.Metadata{Dancer: "D-07", Started: time.Date(2025, 3, 1, 10, 0, 0, 0, time.UTC), Software: "aplomb 0.1.0",
			Support: "barre", Rise: "roll-up", Floor: "wood", Position: "parallel"},
	}
	r.Provenance = &measure.Provenance{
		Software: measure.Software{Version: "0.1.0", Commit: "5a72c400d3a1fd96bd0ae1e2d59c54b77b6a3f61"}, Algorithm: "0123456789ab", Settings: r.Settings,
		Inputs: []measure.Input{{ID: "0123456789", File: r.Recording.File, SHA256: fmt.Sprintf("%063x%d", s.Shoe.Code[:1], mounting+1)}},
		Strips: []measure.Content{}, Shoes: []measure.Content{},
	}
	seat := [2]platform.Point{}
	for _, foot := range feet {
		st, shoe := strip(foot), s.Shoe
		id := fmt.Sprintf("%s%d-%s", s.Shoe.Code, mounting+1, foot)
		r.Meta.Sides[foot] = &device.Side{Strip: st, Shoe: &shoe, Mounting: id, Clock: "strip", Format: "binary"}
		r.Recording.Shoes.Set(foot, s.Shoe.Code)
		r.Recording.Mountings.Set(foot, id)
		r.Platforms.Set(foot, platformOf(&shoe, st))
		seat[foot] = platform.Point{0.6 * rnd.NormFloat64(), 0.6 * rnd.NormFloat64()}
	}
	t := 2.0
	for n := range releves {
		aborted := mounting == 0 && n == 3 && releves > 4
		for _, foot := range feet {
			rel := measure.Releve{N: n + 1, Foot: foot, FeetUp: len(feet), StartS: t, EndS: t + 4.2, Status: measure.Measured, Warnings: []measure.Warning{}}
			if aborted {
				rel.Status, rel.EndS = measure.Aborted, t+0.8
			} else {
				at := platform.Point{
					s.At[foot][0] + seat[foot][0] + 0.5*rnd.NormFloat64(),
					s.At[foot][1] + seat[foot][1] + 0.6*rnd.NormFloat64(),
				}
				rel.Hold = newHold(rnd, r.Platforms.Of(foot), r.Meta.Sides[foot].Strip, s.Verdict[foot], at, t, foot, len(feet))
			}
			r.Releves = append(r.Releves, rel)
		}
		t += 6.5
	}
	for _, foot := range feet {
		r.Traces[foot] = samples(rnd, r.Releves, foot, t)
		lost := int64(37)
		r.Recording.Feet.Set(foot, measure.FootLog{Frames: len(r.Traces[foot]), Lost: &lost, RateHz: 100, SpanS: t})
	}
	return r
}

// newHold returns a hold with its centre of pressure at a point, under a pressure
// that changes linearly over the platform.
func newHold(rnd *rand.Rand, p *measure.Platform, st *device.Strip, v measure.Verdict, at platform.Point, start float64, foot device.Foot, feet int) *measure.Hold {
	_, hi := p.Kern.Bounds()
	slope := platform.Point{at[0] / hi[0], at[1] / hi[1]}
	_, edge := p.Outline.Bounds()
	load := 255.0 + 18*rnd.NormFloat64()
	if foot == device.Right {
		load += 40
	}
	cells := make([]float64, st.Cells())
	sum, loaded := 0.0, 0.0
	for k := range cells {
		row, col := st.RowCol(k)
		c := st.Centre(row, col)
		in := p.Outline.Clip(st.CellOutline(row, col)).Area() / st.CellArea()
		cells[k] = in * max(0, 1+slope[0]*c[0]/edge[0]+slope[1]*c[1]/edge[1])
		sum += cells[k] * st.CellArea() / 1000
		if cells[k] > 0 {
			loaded += in * st.CellArea()
		}
	}
	peak := 0.0
	for k := range cells {
		cells[k] *= load / sum * (1 + 0.03*rnd.NormFloat64())
		peak = max(peak, cells[k])
	}
	share := min(1, loaded/p.AreaMM2) * (0.97 + 0.01*rnd.NormFloat64())
	loadShare := 0.46 + 0.02*rnd.NormFloat64()
	m := &measure.Hold{
		RiseS: 0.6, HoldStartS: start + 0.6, HoldS: 3.1, LowerS: 0.5, LoadN: load,
		OverMM: at[1], OverNorm: at[1] / edge[1], MedialMM: at[0], MedialNorm: at[0] / edge[0],
		ContactMM2: share * p.AreaMM2, ContactShare: share,
		KernRatio: math.Hypot(at[0], at[1]) / p.Kern.Reach(at), EdgeMM: p.Outline.EdgeDistance(at),
		Verdict: v, PInside: insideAs(v),
		PeakKPa: peak, PeakAt: platform.Point{0, -edge[1] / 2}, PeakFrameKPa: peak * 1.2, PTIKPaS: peak * 3.1,
		Thirds: measure.Thirds{Back: 0.6, Middle: 0.3, Front: 0.1},
		Sway:   &measure.Sway{SDOverMM: 0.5, SDMedialMM: 0.7, PathMM: 60, SpeedMMS: 19, Ellipse95MM2: 7.2},
		Settling: &measure.Settling{
			Over:       change(0.2, 0.6),
			PeakOver:   change(0.3, 1.1),
			PeakMedial: change(-0.1, 1.4),
		},
		UOverMM: 1.0, UMedialMM: 1.0, UContactShare: 0.06, ULoadN: 8, Map: cells,
		ContactCI95: [2]float64{max(0, share-0.12), min(1, share+0.12)},
	}
	for x := -20.0; x < 20 && slope[1] != 0; x += 0.5 { // where the pressure would be 0
		y := func(x float64) float64 { return -edge[1] / slope[1] * (1 + slope[0]*x/edge[0]) }
		m.ContactEdge = append(m.ContactEdge, [2]platform.Point{{x, y(x)}, {x + 0.5, y(x + 0.5)}})
	}
	if feet == 2 {
		m.LoadShare = &loadShare
	}
	return m
}

// change returns a change within a hold with its standard uncertainty, mm.
func change(value, u float64) measure.Change {
	ci := interval(value, u)
	return measure.Change{Estimate: measure.Estimate{Value: value, U: u, CI95: *ci}, DOF: dof}
}

// samples returns a trace of the relevés at 100 Hz, with one gap.
func samples(rnd *rand.Rand, releves []measure.Releve, foot device.Foot, until float64) []measure.Sample {
	var out []measure.Sample
	wobble, after := 0.0, false
	for i := range int(until * 100) {
		t := float64(i) / 100
		if t > 17.2 && t < 17.9 {
			after = true
			continue
		}
		wobble = 0.97*wobble + 0.12*rnd.NormFloat64()
		s := measure.Sample{T: t, LoadN: float32(2 * rnd.Float64()), MedialMM: float32(math.NaN()), OverMM: float32(math.NaN())}
		for _, r := range releves {
			if r.Foot != foot || t < r.StartS || t > r.EndS {
				continue
			}
			level, over := 120*math.Sin(math.Pi*(t-r.StartS)/(r.EndS-r.StartS)), -7+wobble
			if m := r.Hold; m != nil {
				up := min(1, (t-r.StartS)/m.RiseS, (r.EndS-t)/m.LowerS)
				level, over = m.LoadN*(up*(1+0.02*wobble)), m.OverMM+wobble-3*(1-up)
			}
			s.LoadN = float32(level)
			if level >= loadFloorN {
				s.OverMM, s.MedialMM = float32(over), 0
			}
		}
		if after {
			s.Flags, after = measure.AfterGap, false
		}
		out = append(out, s)
	}
	return out
}
