package analyze_test

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/recording"
)

// strip returns a strip of 5 × 8 cells of 5 mm with a fine converter, so that rounding is
// negligible.
func strip(foot device.Foot) *device.Strip {
	return &device.Strip{
		Name: map[device.Foot]string{device.Left: "L-01", device.Right: "R-01"}[foot], Foot: foot, Rows: 5, Cols: 8,
		PitchMM: [2]float64{5, 5}, CellMM: [2]float64{5, 5}, ADCBits: 16, SaturatesAt: 65535,
		FirstCell: "back-lateral", Scan: "rows",
		Mount:       device.Mount{SeatSDMM: 1},
		Calibration: device.Calibration{KPaPerCount: 0.1, GainSD: 0.03},
	}
}

func rectangle(code string, width, depth float64) *device.Shoe {
	return &device.Shoe{Code: code, OutlineMM: [][2]float64{
		{-width / 2, -depth / 2}, {width / 2, -depth / 2}, {width / 2, depth / 2}, {-width / 2, depth / 2},
	}}
}

// bed is the pressure under a flat rigid rectangle on an elastic bed without tension,
// with the resultant at eccentricity e along over: the middle-third rule of
// foundation-engineering textbooks (eccentrically loaded footings). Within the middle
// third it is F/A·(1 + 12·e·y/B²); beyond it a triangle of length 3·(B/2 − e) that falls
// from 4F/(3L(B−2e)) at the edge to zero.
type bed struct{ force, width, depth, e float64 } // N, mm

func (b bed) share() float64 {
	if math.Abs(b.e) <= b.depth/6 {
		return 1
	}
	return 3 * (0.5 - math.Abs(b.e)/b.depth)
}

// peak returns the largest pressure, kPa.
func (b bed) peak() float64 {
	if e := math.Abs(b.e); e > b.depth/6 {
		return 1000 * 4 * b.force / (3 * b.width * (b.depth - 2*e))
	}
	return 1000 * b.force / (b.width * b.depth) * (1 + 6*math.Abs(b.e)/b.depth)
}

// between returns the integral of the pressure over part of the depth, kPa·mm.
func (b bed) between(y0, y1 float64) float64 {
	if b.e < 0 {
		return bed{b.force, b.width, b.depth, -b.e}.between(-y1, -y0)
	}
	y0, y1 = max(y0, -b.depth/2), min(y1, b.depth/2)
	if y0 >= y1 {
		return 0 // beside the platform
	}
	if b.e > b.depth/6 {
		length := 3 * (b.depth/2 - b.e)
		zero := b.depth/2 - length
		y0, y1 = max(y0, zero), max(y1, zero)
		slope := b.peak() / length
		return max(0, slope*((y1-zero)*(y1-zero)-(y0-zero)*(y0-zero))/2)
	}
	mean := 1000 * b.force / (b.width * b.depth)
	return max(0, mean*((y1-y0)+6*b.e*(y1*y1-y0*y0)/(b.depth*b.depth)))
}

// cells returns the reading of each cell of s, kPa.
func (b bed) cells(s *device.Strip) []float64 {
	p := make([]float64, s.Cells())
	for k := range p {
		row, col := s.RowCol(k)
		c := s.Centre(row, col)
		across := max(0, min(c[0]+s.PitchMM[0]/2, b.width/2)-max(c[0]-s.PitchMM[0]/2, -b.width/2))
		p[k] = b.between(c[1]-s.PitchMM[1]/2, c[1]+s.PitchMM[1]/2) * across / s.CellArea()
	}
	return p
}

const (
	up, held, pause = 0.4, 2.0, 0.8 // s, of every relevé of shoot
	// The hold begins and ends where the load is within 15 % of its level, so it includes
	// the ends of rise and lowering, and its mean load is slightly lower.
	edge   = 0.15 * up
	onHold = (held + 2*edge*(1-0.15/2)) / (held + 2*edge)
)

const rate = 200 // Hz

// shoot returns the frames of a recording, in order of arrival. Every map in fields is
// one relevé, with pauses in between.
func shoot(meta device.Metadata, fields [2][][]float64) (frames []device.Frame) {
	period := 2*up + held + pause
	n := max(len(fields[0]), len(fields[1]))
	var curves [2]*device.Curve
	for f, side := range meta.Sides {
		if side != nil {
			curves[f] = side.Strip.Curve()
		}
	}
	for i := range int((float64(n)*period + pause) * rate) {
		now := float64(i) / rate
		for _, f := range device.Feet {
			side := meta.Sides[f]
			if side == nil {
				continue
			}
			counts := make([]uint16, side.Strip.Cells())
			if r, in := math.Modf((now - pause) / period); now >= pause && int(r) < len(fields[f]) {
				u := in * period
				level := max(0, min(1, u/up, (2*up+held-u)/up))
				for k, p := range fields[f][int(r)] {
					counts[k] = uint16(math.Round(curves[f].Counts(k, level*p)))
				}
			}
			frames = append(frames, device.Frame{
				Foot: f, Seq: int64(i), TimeUS: uint64(i) * 1e6 / rate,
				ArrivalNS: meta.Started.UnixNano() + int64(i)*1e9/rate, Counts: counts,
			})
		}
	}
	return frames
}

func write(t testing.TB, path string, meta device.Metadata, frames []device.Frame) {
	w, err := recording.CreateDirect(path, meta)
	require.NoError(t, err)
	for i := range frames {
		require.NoError(t, w.Write(&frames[i]))
	}
	require.NoError(t, w.Close())
}

// analyzed analyzes a recording of the frames at the seats of the profiles, which are
// exact in these tests.
func analyzed(t testing.TB, meta device.Metadata, frames []device.Frame) *measure.Result {
	path := filepath.Join(t.TempDir(), "made.mcap")
	write(t, path, meta, frames)
	r, err := analyze.File(context.Background(), path, analyze.Options{Software: measure.Software{Version: "test"}, AtProfile: true})
	require.NoError(t, err)
	return r
}

func meta(sides ...*device.Side) device.Metadata {
	m := device.Metadata{Dancer: "D7", Started: time.Date(2026, 3, 1, 10, 0, 0, 0, time.UTC), Software: "test"}
	for _, s := range sides {
		m.Sides[s.Strip.Foot] = s
	}
	return m
}

// Centre of pressure and contact share of a whole recording agree with the middle-third
// rule, over the whole range of eccentricity, on a platform whose edges follow cells and
// on one whose edges cut them.
func TestMiddleThirdRule(t *testing.T) {
	for _, size := range [][2]float64{{40, 25}, {36, 22}} {
		width, depth := size[0], size[1]
		t.Run(fmt.Sprintf("%v by %v", width, depth), func(t *testing.T) { middleThird(t, strip(device.Left), width, depth, 0) })
	}
}

// middleThird compares recordings through strip s with the rule; the k-th cell reads
// zero·(1 + k) counts unloaded.
func middleThird(t *testing.T, s *device.Strip, width, depth float64, zero uint16) {
	var beds []bed
	var fields [][]float64
	// The smallest contact is two cells deep; a grid of 5 mm cannot resolve less.
	for share := 1.0; share*depth >= 10; share -= 0.05 {
		e := depth * (0.5 - share/3)
		if share == 1 {
			for _, within := range []float64{0, 0.05, 0.1, 1.0 / 6} {
				beds = append(beds, bed{400, width, depth, within * depth}, bed{400, width, depth, -within * depth})
			}
		}
		beds = append(beds, bed{400, width, depth, e}, bed{400, width, depth, -e})
	}
	for _, b := range beds {
		fields = append(fields, b.cells(s))
	}
	m := meta(&device.Side{Strip: s, Shoe: rectangle("A", width, depth), Clock: "strip"})
	frames := shoot(m, [2][][]float64{fields, nil})
	for _, f := range frames {
		for k := range f.Counts {
			f.Counts[k] += zero * uint16(1+k)
		}
	}
	r := analyzed(t, m, frames)
	require.Len(t, r.Releves, len(beds))
	for i, one := range r.Releves {
		b := beds[i]
		require.Equal(t, measure.Measured, one.Status)
		assert.InDelta(t, 400*onHold, one.LoadN, 0.5, "load")
		assert.InDelta(t, b.e, one.OverMM, 0.03, "over at e = %.2f mm", b.e)
		assert.InDelta(t, 0, one.MedialMM, 0.03, "medial")
		assert.InDelta(t, b.share(), one.ContactShare, 0.01, "contact share at e = %.2f mm", b.e)
		assert.InDelta(t, 6*math.Abs(b.e)/depth, one.KernRatio, 0.01, "kern ratio")
		assert.InDelta(t, depth/2-math.Abs(b.e), one.EdgeMM, 0.05, "distance to the edge")
		assert.InDelta(t, held+2*edge, one.HoldS, 0.01, "hold")
		// The peak is the mean over one cell: that of the rule over the same cell, and at
		// most the rule's value at the edge.
		assert.LessOrEqual(t, one.PeakKPa, b.peak()*1.001)
		assert.InEpsilon(t, largest(b.cells(s)), one.PeakKPa, 1-onHold+1e-4, "peak at e = %.2f mm", b.e)
	}
}

func largest(p []float64) float64 {
	m := p[0]
	for _, v := range p {
		m = max(m, v)
	}
	return m
}
