package report_test

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze"
	"aplomb/analyze/track"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/device/recording"
	"aplomb/device/sim"
	"aplomb/plots/report"
)

// sixWeeks is a dancer who does not exist, four visits over six weeks, simulated
// from the strip's cells on and analyzed from recordings like any other: the left
// foot comes forward, the right one stays. The first visit has three mountings,
// the others two.
var sixWeeks = sync.OnceValues(func() ([]*analyze.Result, error) {
	dir, err := os.MkdirTemp("", "six-weeks-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	var all [9]*analyze.Result
	var failed [9]error
	var wg sync.WaitGroup
	for i, at := range [9][2]int{{0, 0}, {0, 1}, {0, 2}, {1, 0}, {1, 1}, {2, 0}, {2, 1}, {3, 0}, {3, 1}} {
		wg.Go(func() {
			all[i], failed[i] = simulate(filepath.Join(dir, fmt.Sprintf("%d.mcap", i)), at[0], at[1])
		})
	}
	wg.Wait()
	return all[:], errors.Join(failed[:]...)
})

func simulate(path string, visit, mounting int) (*analyze.Result, error) {
	over := [][2]float64{{-6.6, -3.5}, {-5.9, -3.3}, {-4.6, -3.6}, {-3.3, -3.4}}[visit] // by foot
	meta := recording.Meta{
		Dancer: "D7", Started: firstVisit.AddDate(0, 0, 14*visit).Add(time.Duration(mounting) * 10 * time.Minute),
		Software: "aplomb, strips and dancer simulated", Support: "barre", Rise: "roll-up", Position: "parallel", Floor: "vinyl on wood", MassKG: 52,
	}
	name := fmt.Sprintf("%d-%d", visit, mounting)
	setup := sim.Setup{
		Seed: 1, Start: meta.Started, RateHz: 100, Mounting: name, Faults: sim.DefaultFaults(),
		Dancer: sim.Dancer{MassKG: 52, LeftShare: []float64{0.41, 0.43, 0.46, 0.48}[visit], Rises: 5, SwaySD: 0.5, LoadSD: 0.02},
	}
	for _, f := range device.Feet {
		s := &device.Strip{
			Name: map[device.Foot]string{device.Left: "L-01", device.Right: "R-01"}[f], Foot: f, Rows: 5, Cols: 8,
			PitchMM: [2]float64{5, 5}, CellMM: [2]float64{5, 5}, ADCBits: 12, SaturatesAt: 4095, FirstCell: "back-lateral", Scan: "rows",
			Mount:       device.Mount{SeatSDMM: 0.5, SeatMountings: 6},
			Calibration: device.Calibration{KPaPerCount: 0.75, GainSD: device.DefaultGainSD},
		}
		shoe := &device.Shoe{Code: "C", PlatformMM: [2]float64{37, 23}, OutlineExponent: 3, Box: "moderately tapered", Shank: "medium", HoursWorn: []float64{0, 0, 0, 9}[visit]}
		setup.Feet[f] = &sim.Foot{Strip: s, Shoe: shoe, Stand: sim.Stand{CoPMM: platform.Point{-0.4, over[f]}, ScatterSD: 0.5}}
		meta.Sides[f] = &recording.Side{Strip: s, Shoe: shoe, Mounting: name + "-" + f.String(), Clock: "strip", Format: "binary"}
	}
	session, err := sim.NewSession(setup)
	if err != nil {
		return nil, err
	}
	out, err := recording.CreateDirect(path, meta)
	if err != nil {
		return nil, err
	}
	for frame := (device.Frame{}); ; {
		if err := session.Next(&frame); errors.Is(err, io.EOF) {
			break
		} else if err := errors.Join(err, out.Write(&frame)); err != nil {
			return nil, err
		}
	}
	if err := out.Close(); err != nil {
		return nil, err
	}
	return analyze.File(path, analyze.Options{})
}

var firstVisit = time.Date(2026, 3, 2, 17, 0, 0, 0, time.UTC)

// progressOf is the data of a progress sheet as a command would gather them.
func progressOf(t testing.TB, results []*analyze.Result) report.ProgressData {
	t.Helper()
	d := report.ProgressData{Dancer: "D7", Watched: "left", Version: "0.1.0"}
	for _, m := range report.ProgressMeasures {
		f, err := track.Follow(m, "D7", track.Rows(m, results))
		require.NoError(t, err)
		d.FollowUps = append(d.FollowUps, f)
	}
	pain := [][2]int{{2, 3}, {2, 2}, {1, 1}, {0, 0}}
	for _, r := range results {
		if n := len(d.Visits); n > 0 && d.Visits[n-1].Name == track.VisitOf(r) {
			continue
		}
		p := pain[len(d.Visits)%len(pain)]
		d.Visits = append(d.Visits, report.Visit{
			Name: track.VisitOf(r), Day: r.Meta.Started, Support: r.Meta.Support, Rise: r.Meta.Rise,
			Position: r.Meta.Position, Floor: r.Meta.Floor, PainBefore: &p[0], PainAfter: &p[1], MassKG: r.Meta.MassKG,
		})
	}
	return d
}

func progressSheet(t testing.TB, d report.ProgressData) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, report.WriteProgress(&b, d))
	return b.String()
}

// crowded is a sheet with more of everything than it has room for.
func crowded(t testing.TB, results []*analyze.Result) report.ProgressData {
	t.Helper()
	long := strings.Repeat("W", 300)
	var many []*analyze.Result
	for round := range 4 {
		for _, r := range results {
			one := *r
			one.Meta.Started = r.Meta.Started.AddDate(0, 0, 57*round)
			one.Recording.File = fmt.Sprint(r.Recording.File, round)
			one.Meta.Support = []string{long, "none"}[round/3]
			one.Meta.Floor, one.Meta.Position = fmt.Sprint(round, long), fmt.Sprint(long, round)
			for f, side := range r.Meta.Sides {
				worn := *side.Shoe
				worn.Code, worn.HoursWorn = long, float64(round)
				one.Meta.Sides[f] = &recording.Side{Strip: side.Strip, Shoe: &worn, Mounting: fmt.Sprint(side.Mounting, round)}
			}
			many = append(many, &one)
		}
	}
	d := progressOf(t, many)
	d.Dancer = long
	d.Visits[len(d.Visits)-1].Notice = "Stop: pain rose from 2 to 5 of 10. Hand over to the dancer's clinician. (From 4 on, or a rise of 2: our own cautious default.)"
	return d
}

func TestX(t *testing.T) {
	now := time.Now()
	r, err := sixWeeks()
	require.NoError(t, err)
	t.Log(time.Since(now))
	os.WriteFile("/tmp/sheets/crowded.html", []byte(progressSheet(t, crowded(t, r))), 0o644)
	os.WriteFile("/tmp/sheets/progress.html", []byte(progressSheet(t, progressOf(t, r))), 0o644)
	_ = slices.Contains[[]string]
	_ = assert.Equal
	_ = strings.ToUpper
}
