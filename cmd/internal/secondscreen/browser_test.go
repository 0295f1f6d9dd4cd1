package secondscreen_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/cmd/internal/browsertest"
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

// rising returns the state of a recording in which the dancer stands behind the kern and
// towards the little toe on the left foot, over it on the right one.
func rising() secondscreen.State {
	left, right := footOf(outlineA), footOf(outlineA)
	left.LoadN, left.At, left.Where, left.Counted = 247, at(-4.8, -6.6), measure.PulledBack, 1
	left.Misses = []measure.Direction{measure.Behind, measure.LittleToeSide}
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
	both := standing(outlineA, -4.3, -6.7, measure.PulledBack)
	both.Misses = []measure.Direction{measure.Behind, measure.LittleToeSide}
	return secondscreen.State{
		Stage: secondscreen.Between, Shoe: "C", Feedback: "after", RestEnds: time.Now().Add(84 * time.Second),
		Shoes: []secondscreen.Shoe{
			{Code: "A", Feet: [2]*secondscreen.Standing{both, standing(outlineA, 6.2, -1, measure.ToTheSide)}},
			{Code: "B", Feet: [2]*secondscreen.Standing{standing(outlineA, -6.1, -1, measure.ToTheSide), standing(outlineA, -0.2, -1.7, measure.TooCloseToCall)}},
			{Code: "C", Feet: [2]*secondscreen.Standing{standing(outlineC, -0.7, -1, measure.OverTheBox), standing(outlineC, 0.4, 5.4, measure.TooFarOver)}},
		},
	}
}

// states returns states of both pages in the order of a fitting, with a text that each
// page shows then.
func states() []struct {
	name           string
	fitter, dancer string
	state          secondscreen.State
} {
	pressing, first, practice, down, enough, away, done := rising(), rising(), rising(), rising(), rising(), rising(), resting()
	away.Feet[0].Away, away.Feet[0].At, away.Feet[0].LoadN = true, nil, 0
	away.Feet[1].At, away.Feet[1].LoadN = nil, 0
	enough.Guided = true
	pressing.Stage, pressing.Large, pressing.Text = secondscreen.Pressing, "PRESS LEFT", "press the left platform on the pad, rock it to all sides"
	practice.Feedback = "live"
	for f := range down.Feet {
		down.Feet[f].At, down.Feet[f].Where, down.Feet[f].LoadN = nil, "", 0
		first.Feet[f] = footOf(outlineA)
		enough.Feet[f].At, enough.Feet[f].Where, enough.Feet[f].LoadN, enough.Feet[f].Counted = nil, "", 0, 3
	}
	down.Feet[0].Counted = 3
	long := down
	long.Shoe = strings.Repeat("W", 64)
	done.Stage = secondscreen.Done
	ended := down
	ended.Stage = secondscreen.Done
	return []struct {
		name           string
		fitter, dancer string
		state          secondscreen.State
	}{
		{"waiting", "Nothing is recorded", "Nothing is recorded", secondscreen.State{}},
		{"pressing", "PRESS LEFT", "Pad press", pressing},
		{"first", "0 of 3", "Each relevé is shown", first},
		{"down", "LITTLE TOE", "LITTLE TOE", down},
		{"enough", "DONE", "3 of 3", enough},
		{"away", "Check the left cable. The recording goes on with the right foot.", "Relevé 1 of 3", away},
		{"long", "WWW", "WWW", long},
		{"rising", "BACK", "WWW", rising()}, // she is in it
		{"practice", "BACK", "practice", practice},
		{"resting", "EDGE", "Rest", resting()},
		{"done", "FORWARD", "FORWARD", done},
		{"ended", "The recording has ended", "The recording has ended", ended},
	}
}

// probe measures a page: faults that it should not have, and the size of its words.
const probe = `(() => {
  const out = {small: [], faint: [], cut: [], wide: 0, fetched: 0, capital: 0};
  const light = c => [.2126, .7152, .0722].reduce((sum, part, i) => {
    const s = c[i] / 255;
    return sum + part * (s <= .04045 ? s / 12.92 : ((s + .055) / 1.055) ** 2.4) }, .05);
  const rgb = text => text.match(/[\d.]+/g).map(Number);
  const hex = name => { const v = getComputedStyle(document.documentElement).getPropertyValue(name).trim();
    return [1, 3, 5].map(i => parseInt(v.slice(i, i + 2), 16)) };
  const contrast = (a, b) => { const pair = [light(a), light(b)]; return Math.max(...pair) / Math.min(...pair) };
  const ground = e => { for (; e; e = e.parentElement) {
    const c = rgb(getComputedStyle(e).backgroundColor);
    if (c.length == 3 || c[3] > 0) return c }
    return [255, 255, 255] };
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let n; n = walk.nextNode();) {
    const e = n.parentElement;
    if (!n.data.trim() || e.closest("script,.aloud,[hidden]")) continue;
    if (parseFloat(getComputedStyle(e).fontSize) < 14) out.small.push(n.data);
    if (contrast(rgb(getComputedStyle(e).color), ground(e)) < 4.5) out.faint.push(n.data);
    if (e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).display !== "inline") out.cut.push(n.data);
    if (e.classList.contains("word")) {
      const range = document.createRange();
      range.selectNodeContents(e);
      if (range.getBoundingClientRect().right > e.parentElement.getBoundingClientRect().right + 1) out.cut.push(n.data);
      const c = document.createElement("canvas").getContext("2d");
      c.font = getComputedStyle(e).font;
      const high = c.measureText("H").actualBoundingBoxAscent;
      out.capital = out.capital ? Math.min(out.capital, high) : high;
    }
  }
  for (const [a, b] of [["--kern", "--ground"], ["--kern", "--kern-fill"], ["--line", "--ground"], ["--line", "--panel"], ["--load", "--panel"],
    ["--load", "--ground"], ["--ink", "--kern-fill"], ["--line", "--kern-fill"], ["--line", "--empty"]])
    if (contrast(hex(a), hex(b)) < 3) out.faint.push(a + " on " + b + " " + contrast(hex(a), hex(b)).toFixed(1));
  const inner = document.documentElement;
  out.wide = inner.scrollWidth - inner.clientWidth;
  out.fetched = performance.getEntriesByType("resource").filter(r => !r.name.endsWith("/news")).length;
  return out;
})()`

type probed struct {
	Small, Faint, Cut []string
	Wide, Fetched     int
	Capital           float64 // least height of a capital of a large word, CSS pixels; 0 for none
}

// capitalsMM is the height of a capital that is seen under 20 minutes of arc from 4 m, mm.
// Heights of 20 to 22 minutes are preferred and 16 is the least for reading (ISO 9241-3, as
// quoted in NUREG-0700, 1.3.1-4, which has the formula).
const capitalsMM = 6.283 * 4000 * 20 / 21600

// pixelMM is the size of a CSS pixel of a monitor of 24 inches, 16:9, that is 1920 pixels wide.
const pixelMM = 24 * 25.4 * 0.8716 / 1920

// Both pages are legible at every size, in light and dark: no text below 14 pixels, no
// contrast below 4.5 for text and 3 for graphics (WCAG 2.2, 1.4.3 and 1.4.11), nothing
// beyond the edge of the screen, from 320 pixels on (1.4.10). On a monitor of 24 inches
// the words of a recording can be read from 4 m. Nothing but the news is fetched, and the
// console stays empty.
func TestPagesInChromium(t *testing.T) {
	t.Parallel()
	pictures := os.Getenv("APLOMB_PICTURES") // a folder for pictures to look at
	s := start(t, false)
	ctx := browsertest.Chromium(t)
	messages := chromedp.Console(ctx)
	for v, address := range []string{s.FitterAddress(), s.DancerAddress()} {
		s.Publish(secondscreen.State{})
		shows(t, ctx, address, "Nothing is recorded")
		for _, c := range states() {
			s.Publish(c.state)
			says(t, ctx, strconv.Quote([]string{c.fitter, c.dancer}[v]))
			for i, size := range [][2]int64{{320, 568}, {375, 700}, {1280, 720}, {1920, 1080}} {
				for j, scheme := range []string{"light", "dark"} {
					if (i+j)%2 == 1 && pictures == "" {
						continue // colours do not depend on the size, nor sizes on colours
					}
					name := fmt.Sprintf("%s-%s-%d-%s", []string{"fitter", "dancer"}[v], c.name, size[0], scheme)
					_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
						Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
					require.NoError(t, err)
					require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(size[0], size[1])))
					got := run[probed](t, ctx, probe)
					if size[0] == 1920 && (c.name == "rising" && v == 0 || c.name == "down") {
						assert.GreaterOrEqual(t, got.Capital*pixelMM, capitalsMM, "%s: the words are too small", name)
					}
					got.Capital = 0
					assert.Equal(t, probed{Small: []string{}, Faint: []string{}, Cut: []string{}}, got, name)
					if pictures != "" {
						png, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
						require.NoError(t, err)
						require.NoError(t, os.WriteFile(filepath.Join(pictures, name+".png"), png, 0o644))
					}
				}
			}
		}
	}

	// The probe finds faults.
	bad := run[probed](t, ctx, `(() => {
		const e = document.createElement("p");
		e.textContent = "bad"; e.className = "word";
		Object.assign(e.style, {fontSize: "11px", color: "#777", width: "3000px"});
		document.body.append(e);
		document.documentElement.style.setProperty("--kern", "#222222");
		return true })() && `+probe)
	assert.Equal(t, []string{"bad"}, bad.Small)
	assert.Contains(t, bad.Faint, "bad")
	assert.Contains(t, strings.Join(bad.Faint, " "), "--kern on")
	assert.Positive(t, bad.Wide)

	// By the keyboard the page can be paused.
	shows(t, ctx, s.DancerAddress(), "The recording has ended")
	require.NoError(t, chromedp.Do(ctx, chromedp.KeyEvent(kb.Tab)))
	assert.Equal(t, "pause", run[string](t, ctx, "document.activeElement.id"))
	require.NoError(t, chromedp.Do(ctx, chromedp.KeyEvent(" ")))
	says(t, ctx, `"Paused: what is shown is old"`)
	assert.Equal(t, "true", run[string](t, ctx, `document.activeElement.getAttribute("aria-pressed")`))
	require.NoError(t, chromedp.Do(ctx, chromedp.KeyEvent(" ")))
	s.Publish(rising())
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(s.FitterAddress())))
	says(t, ctx, `"BACK"`)
	assert.Contains(t, run[string](t, ctx, `document.querySelector("[role=status]").textContent`), "left foot: the load is towards the big toe.", "what a screen reader says")
	shows(t, ctx, s.FitterAddress()+"/wrong-key", "404")

	go func() { chromedp.Do(ctx, chromedp.Evaluate[chromedp.Void](`console.log("the end")`)) }()
	for m, err := range messages {
		require.NoError(t, err)
		if strings.Contains(m.Text, "the end") {
			break
		}
		assert.Contains(t, m.Text, "404", "on the console")
	}
}
