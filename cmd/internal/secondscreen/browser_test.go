package secondscreen_test

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/cmd/internal/secondscreen"
	"aplomb/device/platform"
)

var (
	outlineA = platform.Superellipse(35, 21, 2.5)
	outlineC = platform.Superellipse(39, 24, 4)
)

func footOf(outline platform.Polygon) *secondscreen.Foot {
	return &secondscreen.Foot{Outline: outline, Kern: outline.Kern()}
}

func at(medial, over float64) *platform.Point { return &platform.Point{medial, over} }

// rising returns the state of a recording in which the dancer stands behind the kern on the
// left foot, over it on the right one.
func rising() secondscreen.State {
	left, right := footOf(outlineA), footOf(outlineA)
	left.LoadN, left.At, left.Where, left.Counted = 247, at(-1.4, -6.6), measure.PulledBack, 1
	right.LoadN, right.At, right.Where, right.Counted = 281, at(0.5, -0.8), measure.OverTheBox, 1
	left.Last = &secondscreen.Releve{N: 1, Settled: true, At: *at(6.1, 0.2), Verdict: measure.ToTheSide}
	right.Last = &secondscreen.Releve{N: 1, Settled: true, At: *at(-6, 0.4), Verdict: measure.ToTheSide}
	return secondscreen.State{Stage: secondscreen.Recording, Feedback: "after", Shoe: "A", Planned: 3, Feet: [2]*secondscreen.Foot{left, right}, Frame: time.Now()}
}

// resting returns the state between two recordings, with the results of two shoes.
func resting() secondscreen.State {
	standing := func(outline platform.Polygon, medial, over float64, v measure.Verdict) *secondscreen.Standing {
		return &secondscreen.Standing{Outline: outline, Kern: outline.Kern(), At: *at(medial, over), Verdict: v, Releves: 3}
	}
	return secondscreen.State{
		Stage: secondscreen.Between, Shoe: "C", Feedback: "after", RestEnds: time.Now().Add(84 * time.Second),
		Shoes: []secondscreen.Shoe{
			{Code: "A", Feet: [2]*secondscreen.Standing{standing(outlineA, -1.3, -6.7, measure.PulledBack), standing(outlineA, 6.2, -1, measure.ToTheSide)}},
			{Code: "B", Feet: [2]*secondscreen.Standing{standing(outlineA, -6.1, -1, measure.ToTheSide), standing(outlineA, -0.2, -1.7, measure.TooCloseToCall)}},
			{Code: "C", Feet: [2]*secondscreen.Standing{standing(outlineC, -0.7, -1, measure.OverTheBox), standing(outlineC, 0.4, 5.4, measure.TooFarOver)}},
		},
	}
}

// browser starts a Chromium of a test.
func browser(t testing.TB) context.Context {
	path, err := exec.LookPath("chromium")
	if err != nil {
		t.Skip("no chromium here: .ci/run installs it")
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.UserDataDir(t.TempDir()))
	ctx, stop := chromedp.NewExecAllocator(t.Context(), options...)
	t.Cleanup(stop)
	ctx, stop = chromedp.NewContext(ctx)
	t.Cleanup(stop)
	require.NoError(t, chromedp.Do(ctx))
	return ctx
}

func TestPictures(t *testing.T) {
	dir := os.Getenv("APLOMB_PICTURES")
	if dir == "" {
		t.Skip("no folder for pictures")
	}
	s, err := secondscreen.Start(false)
	require.NoError(t, err)
	defer s.Close()
	ctx := browser(t)
	pressing := rising()
	pressing.Stage, pressing.Large, pressing.Text = secondscreen.Pressing, "PRESS LEFT", "press the left platform on the pad, rock it to all sides"
	practice, down, done, first := rising(), rising(), resting(), rising()
	practice.Feedback = "live"
	for f := range down.Feet {
		down.Feet[f].At, down.Feet[f].Where, down.Feet[f].LoadN = nil, "", 0
		first.Feet[f].At, first.Feet[f].Where, first.Feet[f].LoadN, first.Feet[f].Last, first.Feet[f].Counted = nil, "", 0, nil, 0
	}
	down.Feet[0].Counted = 3
	done.Stage = secondscreen.Done
	ended := down
	ended.Stage = secondscreen.Done
	for name, c := range map[string]struct {
		address string
		state   secondscreen.State
	}{
		"fitter-rising": {s.FitterAddress(), rising()}, "fitter-down": {s.FitterAddress(), down}, "fitter-pressing": {s.FitterAddress(), pressing},
		"fitter-rest": {s.FitterAddress(), resting()}, "dancer-last": {s.DancerAddress(), down}, "dancer-first": {s.DancerAddress(), first}, "dancer-practice": {s.DancerAddress(), practice},
		"dancer-rest": {s.DancerAddress(), resting()}, "dancer-done": {s.DancerAddress(), done}, "fitter-ended": {s.FitterAddress(), ended}, "fitter-waiting": {s.FitterAddress(), secondscreen.State{}},
	} {
		for size, view := range map[string]chromedp.Action[chromedp.Void]{
			"320": chromedp.EmulateViewport(320, 568), "375": chromedp.EmulateViewport(375, 740, chromedp.EmulateScale(2)), "1280": chromedp.EmulateViewport(1280, 720), "1920": chromedp.EmulateViewport(1920, 1080),
		} {
			s.Publish(c.state)
			require.NoError(t, chromedp.Do(ctx, view, chromedp.Navigate(c.address), chromedp.Sleep(400*time.Millisecond)))
			png, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(filepath.Join(dir, name+"-"+size+".png"), png, 0o644))
		}
	}
}
