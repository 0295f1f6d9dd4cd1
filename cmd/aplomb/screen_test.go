//go:build unix

package main

import (
	"context"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"aplomb/cmd/internal/browsertest"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/plots/words"
)

// A whole fitting runs in rehearsal with both pages in Chromium: the fitter's follows the
// recording, the dancer's gets no frame and shows the relevé after it, and in the end
// both show the shoes side by side. Neither has the dancer's code or any text about pain.
func TestFittingOnTheSecondScreen(t *testing.T) {
	t.Parallel()
	fitter, dancer := chromium(t)
	dir := t.TempDir()
	x := onTerminal(t, dir, 80, 30, []string{rehearsalPace + "=16"},
		"fitting", "--rehearse", "--shoes", "C", "--releves", "1", "--seed", "1", "--screen", "--logbook", "book", "--out", "sheet.html")
	x.shows("Pain now")
	const follow = `window.frames_ = 0; window.texts = "";
		new MutationObserver(() => { texts += "\n" + document.body.innerText; if (document.body.dataset.frame) frames_++ })
			.observe(document.body, {attributes: true, childList: true, subtree: true, characterData: true}); true`
	for page, ctx := range map[string]context.Context{"fitter": fitter, "dancer": dancer} {
		address := regexp.MustCompile(`http://[\d.]+:\d+/` + page).FindString(x.text())
		require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(address)))
		onPage(t, ctx, `document.body.innerText.includes("Nothing is recorded yet.")`)
		onPage(t, ctx, follow)
	}
	const next = " "
	for _, asked := range []string{"> 0  none", "Hold on to:", "How does the dancer rise?", "Is the floor", "Is the dancer warmed up?", "Body weight", "Begin?", "Step 1 of 1"} {
		x.answers(asked, next)
	}
	x.shows("Tug at each strip")
	onPage(t, fitter, `document.getElementById("large").innerText === "SHOES ON" && frames_ > 0`)
	x.types(next)
	x.shows("space next: end this")
	onPage(t, fitter, `document.getElementById("large").innerText === "DONE"`)
	onPage(t, dancer, `/[Rr]elevé \d/.test(document.body.innerText) && document.body.innerText.includes("LITTLE TOE")`)
	x.types(next)
	for _, asked := range []string{"What did you see?", "How comfortable is it", "Where does it pinch?", "> 0  none", "This recording:"} {
		x.answers(asked, next)
	}
	x.shows("Which shoe do you choose?")
	onPage(t, fitter, `document.getElementById("shoes").innerText.includes("LITTLE TOE")`)
	x.types("1")
	x.answers("Why?", "\r")
	x.answers("> 0  none", next)
	assert.Equal(t, exitDone, x.ends())
	sheet, err := os.ReadFile(filepath.Join(dir, "sheet.html"))
	require.NoError(t, err)
	assert.Contains(t, string(sheet), "choice: shoe C.", "said after the answer was prepared")

	for _, page := range []struct {
		name string
		in   context.Context
		live bool
	}{{"fitter", fitter, true}, {"dancer", dancer, false}} {
		onPage(t, page.in, `document.getElementById("title").innerText === "Shoes side by side"`)
		onPage(t, page.in, `document.getElementById("shoes").innerText.includes("LITTLE TOE")`)
		live, err := chromedp.Run(page.in, chromedp.Evaluate[bool](`frames_ > 0`))
		require.NoError(t, err)
		assert.Equal(t, page.live, live, page.name)
		texts, err := chromedp.Run(page.in, chromedp.Evaluate[string](`texts`))
		require.NoError(t, err)
		assert.NotContains(t, texts, "R1", page.name)
		assert.Contains(t, texts, words.Caution, page.name)
		assert.NotContains(t, strings.ToLower(strings.ReplaceAll(texts, words.Caution, "")), "pain", page.name)
	}
}

// A fitting runs in rehearsal on a terminal, in real time, and the delay of a frame until
// it is on the fitter's page is logged.
func TestLatenessOfTheSecondScreen(t *testing.T) {
	if os.Getenv("APLOMB_LONG") == "" {
		t.Skip("takes a minute: APLOMB_LONG=1")
	}
	fitter, _ := chromium(t)
	x := onTerminal(t, t.TempDir(), 100, 40, nil, "fitting", "--rehearse", "--seed", "1", "--screen")
	x.shows("/dancer")
	address := regexp.MustCompile(`http://[\d.]+:\d+/fitter`).FindString(x.text())
	require.NoError(t, chromedp.Do(fitter, chromedp.Navigate(address)))
	onPage(t, fitter, `document.body.innerText.includes("Nothing is recorded yet.")`)
	onPage(t, fitter, `window.late = [];
		new MutationObserver(() => {
			const arrived = Number(document.body.dataset.frame);
			requestAnimationFrame(() => { if (arrived) late.push(Date.now() - arrived) });
		}).observe(document.body, {attributes: true, attributeFilter: ["data-frame"]}); true`)
	for range 100 {
		if strings.Contains(x.text(), "press the left platform") {
			break
		}
		x.types("\r")
		time.Sleep(200 * time.Millisecond)
	}
	for range 30 { // s: the pad press, then relevés
		x.types("\r")
		time.Sleep(time.Second)
	}
	ms, err := chromedp.Run(fitter, chromedp.Evaluate[[]float64](`late`))
	require.NoError(t, err)
	require.NotEmpty(t, ms, x.text())
	slices.Sort(ms)
	t.Logf("from the frame to the screen: median %.0f ms, 95 %% within %.0f ms, of %d", ms[len(ms)/2], ms[len(ms)*95/100], len(ms))
}

// chromium starts a browser with two windows, each with its own connections.
func chromium(t *testing.T) (one, other context.Context) {
	browser := browsertest.Chromium(t)
	one, stop := chromedp.NewContext(browser, chromedp.WithNewBrowserContext())
	t.Cleanup(stop)
	other, stop = chromedp.NewContext(browser, chromedp.WithNewBrowserContext())
	t.Cleanup(stop)
	return one, other
}

// onPage waits until an expression is true on a page.
func onPage(t *testing.T, page context.Context, expression string) {
	t.Helper()
	require.Eventually(t, func() bool {
		is, err := chromedp.Run(page, chromedp.Evaluate[bool](expression))
		return assert.NoError(t, err) && is
	}, patience, 20*time.Millisecond, expression)
}
