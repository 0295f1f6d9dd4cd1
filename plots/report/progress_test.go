package report_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
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
	"aplomb/plots/words"
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

// crowded returns the data of a sheet with more content of every kind than fits.
func crowded(t testing.TB) report.ProgressData {
	t.Helper()
	long := strings.Repeat("W", 300)
	var visits []madeVisit
	for i := range 36 {
		v := recovery()[[]int{0, 1, 3, 4, 5}[i%5]]
		v.day, v.shoe, v.hours, v.note, v.notice = 11*i, fmt.Sprint(strings.Repeat("W", 58), i/20), float64(i), fmt.Sprint(i, long), ""
		visits = append(visits, v)
	}
	d := made(t, long, visits...)
	for i := range d.Visits {
		v := &d.Visits[i]
		v.Choice, v.Floor, v.Position = long, fmt.Sprint(i/6, long), fmt.Sprint(long, i/6)
		v.SingleLeg.Set(device.Left, 25)
	}
	d.Visits[len(d.Visits)-1].Notice = stopAt5
	return d
}

// The sheet of the simulated visits reports what was simulated: the left foot was behind the
// kern and changed, the right foot did not change.
func TestProgressSheet(t *testing.T) {
	d := progressOf(t, followed(t))
	html := progressSheet(t, d)
	require.Equal(t, html, progressSheet(t, d), "the same data give other bytes")
	require.NoError(t, balanced(html))
	selfContained(t, html)
	page := text(html)
	for _, want := range []string{
		"Progress sheet, dancer D7, 2 March 2026 to 13 April 2026", "4 visits, followed in shoe C, barre, roll-up.",
		"On 13 April 2026 the load sits at the edge of the target zone (too close to call) on both feet", "own, remounted", "30, 3 times", "2, 3",
		"Unlike the reference visit: shoe worn for 9 h, 0 h at the reference: part of the change may be the shoe's.", "Reference: barre, roll-up, parallel, vinyl on wood.",
		"Left foot (watched)", "The target zone (kern) reaches from −3.3 to 3.3 mm front to back.", "No stop for pain. Pain on 13 April 2026: 0 before, 0 after, of 10.",
		"none on a return to dance", "not how strong a leg is", words.Caution, "Seen by (name, signature)",
		"Written by aplomb 0.1.0 (commit 5a72c400), algorithm 0123456789ab; validated in simulation and on an emulated board, not yet on a physical strip.",
	} {
		assert.Contains(t, page, want)
	}
	assert.Regexp(t, `Left foot: [23]\.\d mm towards the front since 2 March 2026: beyond noise \(±\d\.\d mm\)\. Right foot: 0\.\d mm (towards the (front|back) )?since 2 March 2026: within noise`, page)
	assert.Regexp(t, `On 2 March 2026 it sat [23]\.\d mm farther back on the left foot; the change since is beyond noise \(±\d\.\d mm\)\.`, page, "left against right")
	assert.Regexp(t, `left 4[01], right (59|60)`, page, "52 kg, 41 % of it on the left foot")
	assert.Regexp(t, `The left foot carries 4[78] ± \d % of the load, [78] percentage points more than on 2 March 2026: beyond noise \(±\d\)\. Both feet together carry (99|100|101) % of body weight, from load and a mass of 52 kg\.`, page)
	assert.Equal(t, 4, strings.Count(html, "<svg"), "a picture a foot, one of load and one of pain")
	assert.Regexp(t, `aria-label="Front to back \(over\), mm, up: front, down: back; target zone \(kern\) from −3\.3 mm to 3\.3 mm; 2 Mar 26: −[67]\.\d ± \d\.\d mm;`, html)
	for _, not := range []string{"<nil>", "0x", "%!", "ZgotmplZ", "NaN", "fit to", "ready", "weaker", "better", "improve", "Hand over"} {
		assert.NotContains(t, page, not)
	}
}

// The sheet states the place on each foot: by how many mm beyond the kern, on both axes.
func TestProgressSheetSaysWhereTheLoadSits(t *testing.T) {
	visit := recovery()[0]
	for _, c := range []struct {
		over, medial [2]float64
		feet         []device.Foot
		want         string
	}{
		{[2]float64{-7.3, -0.5}, [2]float64{}, bothFeet, "sits 4.0 mm behind the target zone on the left foot (watched) and over the box on the right foot"},
		{[2]float64{0, 0}, [2]float64{}, bothFeet, "sits over the box on both feet"},
		{[2]float64{-3.3, 8.3}, [2]float64{}, bothFeet, "sits at the edge of the target zone (too close to call) on the left foot (watched) and 5.0 mm in front of the target zone on the right foot"},
		{[2]float64{-7.3, 0}, [2]float64{-9.2, 9.25}, bothFeet, "sits 4.0 mm behind the target zone and 4.0 mm beyond the target zone towards the little toe on the left foot (watched) and 4.0 mm beyond the target zone towards the big toe on the right foot"},
		{[2]float64{-7.3, 9}, [2]float64{}, []device.Foot{device.Right}, "sits 5.7 mm in front of the target zone on the right foot"},
	} {
		one := visit
		one.over, one.medial, one.feet = c.over, c.medial, c.feet
		page := text(progressSheet(t, made(t, "D7", one)))
		assert.Contains(t, page, "On 2 March 2026 the load "+c.want+" How sure")
	}
}

// One visit gives a page without a comparison with earlier ones.
func TestProgressSheetOfOneVisit(t *testing.T) {
	page := text(progressSheet(t, made(t, "D7", recovery()[0])))
	for _, want := range []string{
		"1 visit, followed in shoe C", "Has it changed? One visit only: nothing to compare with yet. Left against right",
		"On the left foot the load sits 4.5 ± 1.9 mm farther back than on the right.", "too little known", "Rises on one leg: left 4, right 25.",
	} {
		assert.Contains(t, page, want)
	}
	assert.NotContains(t, page, "beyond noise (")
	assert.NotContains(t, page, "hatched")

	bare := recovery()[0]
	bare.pain, bare.mass, bare.singleLeg = [2]int{-1, -1}, 0, 0
	page = text(progressSheet(t, made(t, "D7", bare)))
	for _, not := range []string{"Pain before", "Pain of the visit", "ody weight", "Rises on one leg", "No stop"} {
		assert.NotContains(t, page, not)
	}
}

// The sheet works with one foot and one measure, without data on the visits and without a
// kern.
func TestProgressSheetOfLess(t *testing.T) {
	d := made(t, "D7", recovery()...)
	f := *d.FollowUps[0]
	f.Keep(func(s track.Series) bool { return s.Side == track.Left })
	for i := range f.Series {
		f.Series[i].Kern = nil
	}
	html := progressSheet(t, report.ProgressData{Dancer: "<b>", Provenance: &measure.Provenance{}, FollowUps: []*track.FollowUp{&f}})
	require.NoError(t, balanced(html))
	assert.Contains(t, html, "dancer &lt;b&gt;")
	assert.Contains(t, text(html), "the load sits −3.4 mm from the centre of the platform, front to back on the left foot")
	assert.Contains(t, text(html), "Not compared: only the left foot was measured.")
	assert.Contains(t, text(html), "5 visits")
	for _, not := range []string{"Visit by visit", "kern", "(watched)"} {
		assert.NotContains(t, text(html), not)
	}

	assert.ErrorContains(t, report.WriteProgress(io.Discard, report.ProgressData{}), "no relevé was followed")
	full := errors.New("disk full")
	assert.ErrorIs(t, report.WriteProgress(failingWriter{full}, d), full)
	d.Watched = "both"
	assert.ErrorContains(t, report.WriteProgress(io.Discard, d), "the side being watched")
	d.Provenance = nil
	assert.ErrorContains(t, report.WriteProgress(io.Discard, d), "provenance")
}

// Relevés on one leg have no load share; the sheet shows the load of the foot, with the
// pain in its own picture.
func TestProgressSheetOnOneLeg(t *testing.T) {
	visits := recovery()
	for i := range visits {
		if visits[i].feet != nil {
			visits[i].feet = []device.Foot{device.Left}
		}
	}
	html := progressSheet(t, made(t, "D7", visits...))
	assert.Contains(t, text(html), "Pain and load")
	assert.Contains(t, text(html), "The side being watched is the left one.")
	assert.Regexp(t, `aria-label="Pain of the visit, 0 to 10, ring before, disc after; 2 Mar 26: 3 before, 3 after; 11 Mar 26: 2 before, 5 after; 16 Mar 26: 3 before;.* Load, N;`, html)
	assert.Contains(t, html, "Stop on 11 Mar 26.")
	assert.NotContains(t, text(html), "left − right")
	assert.Equal(t, 2, strings.Count(html, "<svg"))
}

// A visit in another shoe is marked and starts a comparison of its own; a shoe that was worn
// beside the followed one is named.
func TestProgressSheetKeepsShoesApart(t *testing.T) {
	visits := recovery()
	visits[5].shoe, visits[4].hours = "E", 6.5
	html := progressSheet(t, made(t, "D7", visits...))
	for _, want := range []string{
		"6 visits, followed in shoe C, barre, roll-up; from 13 April 2026 in E, barre, roll-up.", "On 13 April 2026, the first visit in shoe E, the load sits", "First visit in shoe E: nothing to compare with yet. Left foot, before that in shoe C: 2.5 mm towards the front from 2 March 2026 to 4 April 2026: beyond noise", "in E, barre, roll-up",
	} {
		assert.Contains(t, text(html), want)
	}
	assert.Contains(t, html, "From 13 Apr 26 on: shoe E.")
	assert.Contains(t, html, ">6.5<", "hours worn")
	assert.NotContains(t, text(html), "Not on this sheet")

	// Both shoes at the last visit: the sheet stays with the one that it followed.
	both := made(t, "D7", recovery()...)
	other := made(t, "D7", visits...)
	for i := range both.FollowUps {
		both.FollowUps[i].Series = append(both.FollowUps[i].Series, slices.DeleteFunc(other.FollowUps[i].Series, func(s track.Series) bool { return s.Shoe != "E" })...)
	}
	page := text(progressSheet(t, both))
	assert.Contains(t, page, "6 visits, followed in shoe C, barre, roll-up. Not")
	assert.Contains(t, page, "Not on this sheet, since shoes and conditions are followed each on its own: E, barre, roll-up.")
}

// The stop is that of the last visit with a record of pain, with its day if there were
// visits since.
func TestProgressSheetShowsTheStop(t *testing.T) {
	d := made(t, "D7", recovery()...)
	assert.Empty(t, d.Stop(), "pain has been asked for since the stop")
	assert.NotContains(t, text(progressSheet(t, d)), "Stop: pain is")
	assert.Contains(t, text(progressSheet(t, d)), "2, 5: stop", "in the table")
	assert.Contains(t, text(progressSheet(t, d)), "Stop for pain on 11 March 2026: 2 before, 5 after, of 10. Pain on 13 April 2026: 0 before, 1 after, of 10.")

	d = made(t, "D7", append(recovery()[:2], madeVisit{day: 20, pain: [2]int{-1, -1}})...)
	assert.Equal(t, stopAt5, d.Stop())
	page := text(progressSheet(t, d))
	assert.Contains(t, page, stopAt5+" That is of 11 March 2026; nobody asked for pain since. On 11 March 2026 the load")
	assert.Contains(t, page, "On 22 March 2026 no relevé was measured.")
	assert.Contains(t, page, "22 Mar 26 none measured")
}

// The sheet states the result of the strips' checks once, without series that are
// followed separately, which it names elsewhere.
func TestProgressSheetShowsChangedStrips(t *testing.T) {
	d := made(t, "D7", recovery()...)
	failed := measure.Warn(measure.CheckFailed, measure.Values{Strip: "L-01", Date: "2026-03-01", Percent: 6})
	for i := range d.FollowUps {
		d.FollowUps[i].Warnings = append(slices.Clone(d.FollowUps[i].Warnings), failed)
	}
	var b strings.Builder
	require.NoError(t, report.WriteProgress(&b, d))
	assert.Equal(t, 1, strings.Count(b.String(), "<li>strip L-01: it did not pass its last check on 2026-03-01"))
}

// Up to thirty visits are all in the table; of more it has the reference visit and the
// last ones.
func TestProgressSheetOfManyVisits(t *testing.T) {
	var visits []madeVisit
	for i := range 30 {
		v := recovery()[0]
		v.day = 7 * i
		visits = append(visits, v)
	}
	html := progressSheet(t, made(t, "D7", visits...))
	assert.Equal(t, 30, strings.Count(html, "12, twice"))

	page := text(progressSheet(t, crowded(t)))
	assert.Contains(t, page, "6 visits more in the pictures.")
	assert.Contains(t, page, "Stop: pain is 5")
}

// The answer prints on one page and the statistics on another, with the most content, on
// paper as narrow as A4 (ISO 216, 210 mm) and as low as Letter (11 in).
func progressPrintsOnTwoPages(t *testing.T, toPDF printing) {
	if _, err := exec.LookPath("pdftotext"); err != nil {
		t.Skip("no pdftotext here: .ci/run installs it")
	}
	html := strings.Replace(progressSheet(t, crowded(t)), "</style>", "@page progress { size: 210mm 11in }</style>", 1)
	cmd := exec.Command("pdftotext", "-layout", "-", "-")
	cmd.Stdin = bytes.NewReader(toPDF(html, papers["A4"]))
	out, err := cmd.Output()
	require.NoError(t, err)
	pages := strings.Split(strings.TrimSuffix(string(out), "\f"), "\f")
	require.Len(t, pages, 2)
	assert.Contains(t, pages[0], "Seen by (name, signature)")
	assert.NotContains(t, pages[0], "Statistics")
	assert.Contains(t, pages[1], "Written by")
}
