//go:build unix

package main

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"

	"github.com/rogpeppe/go-internal/testscript"

	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/device/reference"
)

// against STRIP PLATE writes two CSV files of the same 16 s: the readings of strip L-01
// under the platform of shoe A, 100 frames a second, and those of a plate of 200 rows a
// second, whose clock is 12.5 s ahead and 40 in a million fast. Three taps, four loads,
// three taps; the pressure is a plane, so load and centre of pressure have a closed form.
func against(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: against STRIP PLATE")
	}
	strip, err := device.ReadStrip(context.Background(), ts.MkAbs("left.toml"))
	ts.Check(err)
	outline := platform.Superellipse(35, 21, 2.5)
	whole := outline.Moments()
	const lasts = 16.0
	at := func(t float64) (level, over float64) {
		for _, tap := range []float64{0.5, 0.9, 1.6, 13.5, 14.1, 15.2} {
			if in := (t - tap) / 0.06; in > 0 && in < 1 {
				return 0.4 * math.Sin(math.Pi*in), 0
			}
		}
		i := math.Floor((t - 3) / 2.4)
		if i < 0 || i > 3 {
			return 0, 0
		}
		in := t - 3 - 2.4*i
		return max(0, min(1, in/0.3, (1.6-in)/0.3)) * (1 + 0.1*i), -3 + 0.7*i
	}
	const full = 400 // counts of a cell at level 1
	var b bytes.Buffer
	b.WriteString("t_us")
	for k := range strip.Cells() {
		fmt.Fprintf(&b, ",c%d", k)
	}
	b.WriteByte('\n')
	for k := range int(lasts * 100) {
		level, over := at(float64(k) / 100)
		fmt.Fprint(&b, 10_000*k)
		for row := range strip.Rows {
			for col := range strip.Cols {
				x, y := 5*float64(col)-20, 5*float64(row)-12.5
				part := outline.Clip(platform.Polygon{{x, y}, {x + 5, y}, {x + 5, y + 5}, {x, y + 5}}).Moments()
				fmt.Fprintf(&b, ",%.0f", level*full*part.Area/25*max(0, 1+part.Centroid[1]*over*whole.Area/whole.OO))
			}
		}
		b.WriteByte('\n')
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), b.Bytes(), 0o666))

	b.Reset()
	fmt.Fprintf(&b, "%s: what a plate would measure\n%s\n", reference.SimulatedMark, reference.Header)
	for k := range int(lasts * 200) {
		t := float64(k) / 200
		level, over := at(t)
		load := level * full * strip.Calibration.KPaPerCount * whole.Area / 1000 // kPa · mm² = N/1000
		fmt.Fprintf(&b, "%.6f,%.4f,0,%.4f\n", 12.5+t*(1+40e-6), load, over)
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), b.Bytes(), 0o666))
}
