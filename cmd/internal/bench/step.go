package bench

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"aplomb/analyze/calibrate"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
	"aplomb/device/platform"
)

// whenSettled is the end of a prompt for a load.
const whenSettled = "When it has settled, press Enter."

// Step is one step of a calibration as it is typed: WHAT or WHAT=FILE.
type Step struct{ What, File string }

// cutStep separates what is to be done from the file.
func cutStep(arg string) Step {
	what, file, _ := strings.Cut(arg, "=")
	return Step{what, file}
}

// steps parses the steps that were typed. From files every step has a file, at the
// port none has.
func (b *Bench) steps(args []string) (all []Step, err error) {
	for _, a := range args {
		s := cutStep(a)
		switch {
		case b.port == nil && s.File == "":
			return nil, usage.Errorf("%s: name the file of it, as in %s=load.csv, or the strip's --port", a, s.What)
		case b.port != nil && a != s.What:
			return nil, usage.Errorf("%s: with --port the steps are read from the strip: name no files", a)
		}
		all = append(all, s)
	}
	return all, nil
}

// name returns the name of the step with index i for an error: its file, or its number.
func (s Step) name(i int) string {
	if s.File != "" {
		return s.File
	}
	return fmt.Sprintf("step %d (%s)", i+1, s.What)
}

// ParseWeight reads a weight with its unit: 5kg, 50N or 5000g.
func ParseWeight(typed string) (float64, calibrate.Unit, error) {
	number := strings.TrimRight(typed, "kgN")
	unit := calibrate.Unit(typed[len(number):])
	v, err := strconv.ParseFloat(number, 64)
	switch {
	case unit == "":
		return 0, "", usage.Errorf("%q: a weight with its unit, such as 5kg, 50N or 5000g", typed)
	case err != nil || unit.Newtons() == 0 || !(v >= 0) || math.IsInf(v, 0):
		return 0, "", usage.Errorf("%q is no weight: write it as 5kg, 50N or 5000g", typed)
	}
	return v, unit, nil
}

// ParseWeightAt reads 5kg@-10,2.5: a weight and the place on the strip that it is
// put on, [medial, over] in mm from the strip's middle.
func ParseWeightAt(typed string) (loadN float64, at platform.Point, err error) {
	load, place, there := strings.Cut(typed, "@")
	if !there {
		return 0, at, usage.Errorf("%q: a weight and the millimetres from the strip's middle towards the big toe and the front, such as 5kg@-10,2.5", typed)
	}
	v, unit, err := ParseWeight(load)
	if err != nil {
		return 0, at, err
	}
	at, err = ParsePair(place, ",")
	if err != nil {
		return 0, at, usage.Errorf("%q: no place after the @: millimetres from the strip's middle towards the big toe and the front, such as -10,2.5", typed)
	}
	return v * unit.Newtons(), at, nil
}

// ParsePair reads two numbers with a separator between them.
func ParsePair(typed, separator string) (p [2]float64, err error) {
	first, second, _ := strings.Cut(typed, separator)
	for i, part := range []string{first, second} {
		if p[i], err = strconv.ParseFloat(part, 64); err != nil || math.IsNaN(p[i]) || math.IsInf(p[i], 0) {
			return p, fmt.Errorf("%q: two numbers with %s between", typed, separator)
		}
	}
	return p, nil
}

// Readings are the frames that a strip sent during one step.
type Readings struct {
	TimeS  []float64
	Frames [][]uint16 // counts of each cell in the order of the strip's scan
}

// mostCounts is the largest number of counts that are kept of a step.
const mostCounts = 64 << 20

func (r *Readings) add(f *device.Frame, startS float64) error {
	if (len(r.Frames)+1)*len(f.Counts) > mostCounts {
		return fmt.Errorf("more than %d frames: cut out the part that matters", len(r.Frames))
	}
	r.TimeS = append(r.TimeS, startS+float64(f.TimeUS)/1e6)
	r.Frames = append(r.Frames, append([]uint16(nil), f.Counts...))
	return nil
}

// span is how long the readings last, s.
func (r *Readings) span() float64 { return r.TimeS[len(r.TimeS)-1] - r.TimeS[0] }

// mean returns the mean count of all cells above the zero, over the frames between
// from and to seconds before the last one. A nil zero is 0.
func (r *Readings) mean(zero []float64, from, to float64) float64 {
	sum, n := 0.0, 0.0
	last := r.TimeS[len(r.TimeS)-1]
	for i := len(r.TimeS) - 1; i >= 0 && r.TimeS[i] > last-to; i-- {
		if r.TimeS[i] > last-from {
			continue
		}
		for k, y := range r.Frames[i] {
			sum, n = sum+float64(y), n+1
			if zero != nil {
				sum -= zero[k]
			}
		}
	}
	return sum / n
}
