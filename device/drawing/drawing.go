// Package drawing reads the outline of a platform from a drawing: points in CSV, or the
// path of an SVG file. Outlines are in mm, [medial, over], shifted so that their centroid
// is the origin.
//
// On paper and in a drawing the front edge is up and the big toe to the right, as for a
// left shoe that stands on the paper. Options.Mirror is for the opposite.
package drawing

import (
	"context"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"strings"

	"aplomb/device"
	"aplomb/device/input"
	"aplomb/device/platform"
)

// Options describes what is not in the file.
type Options struct {
	ScaleMM float64 // length of one unit of the file, mm; 0 stands for the scale in the file, 1 for CSV
	Mirror  bool    // the big toe is to the left
}

// maxBytes bounds the size of a file. An outline takes a few kilobytes.
const maxBytes = 4 << 20

// Read reads the outline in a file, whose name ends in .csv or .svg. An error names the
// file and, where there is one, the line. Reading ends with the error of ctx when ctx is
// done.
func Read(ctx context.Context, path string, opt Options) (platform.Polygon, error) {
	var parse func(string, []byte, Options) (platform.Polygon, error)
	switch strings.ToLower(filepath.Ext(path)) {
	case ".csv":
		parse = ParseCSV
	case ".svg":
		parse = ParseSVG
	default:
		return nil, fmt.Errorf("%s: an outline is read from a file that ends in .csv or .svg", path)
	}
	data, err := input.ReadFile(ctx, path, maxBytes)
	if err != nil {
		return nil, err
	}
	return parse(path, data, opt)
}

// maxMM bounds coordinates. No sheet that a shoe stands on is larger.
const maxMM = 10_000

// finish returns an outline from points in the unit of the file, y up: scaled, rounded,
// checked and centred.
func finish(name string, p platform.Polygon, scaleMM float64, mirror bool) (platform.Polygon, error) {
	across := scaleMM
	if mirror {
		across = -across
	}
	out := make(platform.Polygon, 0, len(p))
	for _, q := range p {
		at := platform.Point{thousandth(q[0] * across), thousandth(q[1] * scaleMM)}
		if !(max(math.Abs(at[0]), math.Abs(at[1])) <= maxMM) {
			return nil, fmt.Errorf("%s: a point at %.4g mm: is the scale right?", name, at)
		}
		if len(out) == 0 || at != out[len(out)-1] {
			out = append(out, at)
		}
	}
	for len(out) > 1 && out[0] == out[len(out)-1] {
		out = out[:len(out)-1]
	}
	if len(out) > device.MaxOutline {
		return nil, fmt.Errorf("%s: %d points: at most %d", name, len(out), device.MaxOutline)
	}
	if err := out.Check(); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	out = out.Centred()
	for i, q := range out {
		out[i] = platform.Point{thousandth(q[0]), thousandth(q[1])}
	}
	return out, nil
}

// thousandth rounds to a thousandth of a mm, far less than the error of a drawing by hand.
func thousandth(mm float64) float64 { return math.Round(mm*1000) / 1000 }

func (o Options) check() error {
	if o.ScaleMM < 0 || math.IsNaN(o.ScaleMM) || math.IsInf(o.ScaleMM, 0) {
		return errors.New("the scale is how many mm one unit of the file is, above 0")
	}
	return nil
}
