package report_test

import (
	"bytes"
	"context"
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
	"aplomb/analyze/measure"
	"aplomb/analyze/track"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/device/recording"
	"aplomb/device/sim"
	"aplomb/plots/internal/exampledata"
	"aplomb/plots/report"
)

// sixWeeks returns the results of a simulated dancer: four visits over six weeks,
// in which the load moves forward on the left foot and stays on the right foot. The
// cells of the strips are simulated, recorded and analyzed. The first visit has
// three mountings, the others have two.
var sixWeeks = sync.OnceValues(func() ([]*measure.Result, error) {
	dir, err := os.MkdirTemp("", "six-weeks-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	var all [9]*measure.Result
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

func simulate(path string, visit, mounting int) (*measure.Result, error) {
	over := [][2]float64{{-6.6, -3.5}, {-5.9, -3.3}, {-4.6, -3.6}, {-3.3, -3.4}}[visit] // by foot
	meta := device.Metadata{
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
		meta.Sides[f] = &device.Side{Strip: s, Shoe: shoe, Mounting: name + "-" + f.String(), Clock: "strip", Format: "binary"}
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
	return analyze.File(context.Background(), path, analyze.Options{})
}

// followed returns the results of sixWeeks.
func followed(t testing.TB) []*measure.Result {
	t.Helper()
	results, err := sixWeeks()
	require.NoError(t, err)
	return results
}

var firstVisit = time.Date(2026, 3, 2, 17, 0, 0, 0, time.UTC)

// progressOf returns the data of a progress sheet of results.
func progressOf(t testing.TB, results []*measure.Result) report.ProgressData {
	t.Helper()
	d := report.ProgressData{Dancer: "D7", Watched: "left", Provenance: exampledata.Usual().Comparison.Provenance}
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

// crowded returns the data of a sheet with more of everything than there is room
// for.
func crowded(t testing.TB, results []*measure.Result) report.ProgressData {
	t.Helper()
	long := strings.Repeat("W", 300)
	var many []*measure.Result
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
				one.Meta.Sides[f] = &device.Side{Strip: side.Strip, Shoe: &worn, Mounting: fmt.Sprint(side.Mounting, round)}
			}
			many = append(many, &one)
		}
	}
	d := progressOf(t, many)
	for _, f := range d.FollowUps {
		for i := range f.Series {
			f.Series[i].Repeat.Coverage = 0.89
		}
	}
	for i := range d.Visits {
		d.Visits[i].Note, d.Visits[i].Choice = fmt.Sprint(i, long), long
		d.Visits[i].SingleLeg.Set(device.Left, 25)
		d.Visits[i].SingleLeg.Set(device.Right, 25)
	}
	d.Dancer = long
	d.Visits[len(d.Visits)-1].Notice = "Stop: pain rose from 2 to 5 of 10. Hand over to the dancer's clinician. (From 4 on, or a rise of 2: our own cautious default.)"
	return d
}

// The sheet of the simulated visits reports what was simulated: the left foot
// changed, the right foot did not.
func TestProgressSheet(t *testing.T) {
	html := progressSheet(t, progressOf(t, followed(t)))
	require.Equal(t, html, progressSheet(t, progressOf(t, followed(t))), "the same data give other bytes")
	require.NoError(t, balanced(html))
	selfContained(t, html)
	page := text(html)
	for _, want := range []string{
		"Progress sheet, dancer D7, 2 March 2026 to 13 April 2026",
		"4 visits, followed in shoe C, barre, roll-up.", "The side being watched is the left one.",
		"watched left", "own, remounted", "left 15, right 15; 3 mountings", "2, 3",
		"a shoe worn for 9 h, 0 h at the reference", "Reference: barre, roll-up, parallel, vinyl on wood.",
		"none on a return to dance", "Pain means stop", "Written by aplomb 0.1.0 (commit 5a72c400), algorithm 0123456789ab; validated in simulation and on an emulated board, not yet on a physical strip.",
	} {
		assert.Contains(t, page, want)
	}
	assert.Regexp(t, `Front to back \(over\): left \+[23]\.\d mm, beyond noise; right [+−]?0\.\d mm, within noise`, page)
	assert.Regexp(t, `left 4[01] %, right (59|60) %`, page, "52 kg, 41 % of it on the left foot")
	assert.Equal(t, 3, strings.Count(html, "<svg"), "over, contact share, load share")
	for _, not := range []string{"<nil>", "0x", "%!", "ZgotmplZ", "NaN", "fit to", "ready"} {
		assert.NotContains(t, page, not)
	}
}

func TestProgressSheetOfLess(t *testing.T) {
	d := progressOf(t, followed(t)[:1])
	d.Visits[0].PainBefore, d.Visits[0].PainAfter, d.Visits[0].MassKG = nil, nil, 0
	page := text(progressSheet(t, d))
	assert.Contains(t, page, "left one visit only; right one visit only")
	assert.Contains(t, page, "too little known")
	assert.NotContains(t, page, "Pain before")
	assert.NotContains(t, page, "Body weight")

	// One foot and one measure, without data on the visits.
	var left []track.Row
	for _, r := range track.Rows(measure.Over, followed(t)) {
		if r.Foot == device.Left {
			left = append(left, r)
		}
	}
	f, err := track.Follow(measure.Over, "D7", left)
	require.NoError(t, err)
	html := progressSheet(t, report.ProgressData{Dancer: "<b>", Provenance: &measure.Provenance{}, FollowUps: []*track.FollowUp{f}})
	require.NoError(t, balanced(html))
	assert.Contains(t, html, "dancer &lt;b&gt;")
	assert.NotContains(t, text(html), "Visit by visit")

	assert.ErrorContains(t, report.WriteProgress(io.Discard, report.ProgressData{}), "no relevé was followed")
	full := errors.New("disk full")
	assert.ErrorIs(t, report.WriteProgress(failingWriter{full}, d), full)
	d.Watched = "both"
	assert.ErrorContains(t, report.WriteProgress(io.Discard, d), "the side being watched")
}

// Relevés on one leg have no load share; the sheet shows the load of each foot.
func TestProgressSheetOnOneLeg(t *testing.T) {
	d := progressOf(t, followed(t))
	d.FollowUps = slices.DeleteFunc(d.FollowUps, func(f *track.FollowUp) bool { return f.Measure == measure.LoadShare })
	for _, f := range d.FollowUps {
		f.Series = slices.DeleteFunc(f.Series, func(s track.Series) bool { return s.Side == track.Between })
	}
	html := progressSheet(t, d)
	assert.Contains(t, text(html), "Load, N watched left")
	assert.NotContains(t, text(html), "left − right")
	assert.Equal(t, 2, strings.Count(html, "<svg"), "there is room for the load in the table only")
}

// The sheet follows one shoe and names another one that was worn at a visit.
func TestProgressSheetKeepsShoesApart(t *testing.T) {
	var results []*measure.Result
	for i, r := range followed(t) {
		one := *r
		if i >= 7 { // the last visit in another shoe
			for f, side := range r.Meta.Sides {
				other := *side.Shoe
				other.Code = "E"
				one.Meta.Sides[f] = &device.Side{Strip: side.Strip, Shoe: &other, Mounting: side.Mounting}
			}
		}
		results = append(results, &one)
	}
	page := text(progressSheet(t, progressOf(t, results)))
	assert.Contains(t, page, "4 visits, followed in shoe C, barre, roll-up.")
	assert.Contains(t, page, "Not on this sheet, since shoes and conditions are followed each on its own: E, barre, roll-up.")
	assert.Contains(t, page, "13 April 2026 none in this shoe")
}

// The sheet shows the notice of the last visit and of no other visit.
func TestProgressSheetShowsTheNotice(t *testing.T) {
	d := progressOf(t, followed(t))
	d.Visits[0].Notice, d.Visits[3].Notice = "earlier notice", "Stop."
	page := text(progressSheet(t, d))
	assert.Contains(t, page, "Stop.")
	assert.NotContains(t, page, "earlier notice")
}

// The table of visits has the reference visit and the last ones.
// The sheet says once what the checks of the strips say, and nothing of series that are
// followed separately, which it names elsewhere.
func TestProgressSheetShowsChangedStrips(t *testing.T) {
	d := progressOf(t, followed(t))
	failed := measure.Warn(measure.CheckFailed, measure.Values{Strip: "L-01", Date: "2026-03-01", Percent: 6})
	for i := range d.FollowUps {
		d.FollowUps[i].Warnings = append(slices.Clone(d.FollowUps[i].Warnings), failed)
	}
	var b strings.Builder
	require.NoError(t, report.WriteProgress(&b, d))
	assert.Equal(t, 1, strings.Count(b.String(), "<li>strip L-01: it did not pass its last check on 2026-03-01"))
}

func TestProgressSheetOfManyVisits(t *testing.T) {
	page := text(progressSheet(t, crowded(t, followed(t))))
	assert.Contains(t, page, "2 March 2026, reference")
	assert.Contains(t, page, "10 visits more in the pictures.")
	assert.Contains(t, page, "Stop: pain rose")
}
