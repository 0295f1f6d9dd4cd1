//go:build unix

package main

import (
	"bufio"
	"context"
	"os"
	"os/exec"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"aplomb/cmd/internal/browsertest"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A whole fitting in rehearsal with both pages in Chromium: the fitter's follows every
// recording, the dancer's is sent no frame, and in the end both have the shoes side by side.
// Neither has the dancer's code or says anything about pain.
func TestFittingOnTheSecondScreen(t *testing.T) {
	t.Parallel()
	fitter, dancer := chromium(t)
	cmd := exec.CommandContext(t.Context(), "aplomb", "fitting", "--rehearse", "--plain", "--seed", "1", "--screen")
	cmd.Env = append(os.Environ(), "GORACE=atexit_sleep_ms=0")
	answers, err := cmd.StdinPipe() // while it is open the fitting waits for the first answer
	require.NoError(t, err)
	said, err := cmd.StderrPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	lines := bufio.NewScanner(said)
	address := map[string]string{}
	for len(address) < 2 && lines.Scan() {
		if fields := strings.Fields(lines.Text()); len(fields) == 2 && strings.HasPrefix(fields[1], "http://") {
			address[fields[0]] = fields[1]
		}
	}
	require.Len(t, address, 2)

	const follow = `window.frames_ = 0; window.texts = "";
		new MutationObserver(() => { texts += "\n" + document.body.innerText; if (document.body.dataset.frame) frames_++ })
			.observe(document.body, {attributes: true, childList: true, subtree: true, characterData: true}); true`
	for page, to := range map[string]string{"fitter": address["fitter"], "dancer": address["dancer"]} {
		ctx := fitter
		if page == "dancer" {
			ctx = dancer
		}
		require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(to)))
		onPage(t, ctx, `document.body.innerText.includes("Nothing is recorded yet.")`)
		onPage(t, ctx, follow)
	}
	require.NoError(t, answers.Close())
	for lines.Scan() {
	}
	require.NoError(t, cmd.Wait())

	for _, page := range []struct {
		name string
		live bool
	}{{"fitter", true}, {"dancer", false}} {
		ctx := fitter
		if page.name == "dancer" {
			ctx = dancer
		}
		onPage(t, ctx, `document.getElementById("title").innerText === "Shoes side by side"`)
		for _, text := range []string{"BACK", "OVER"} {
			onPage(t, ctx, `document.getElementById("shoes").innerText.includes("`+text+`")`)
		}
		live, err := chromedp.Run(ctx, chromedp.Evaluate[bool](`frames_ > 0`))
		require.NoError(t, err)
		assert.Equal(t, page.live, live, page.name)
		texts, err := chromedp.Run(ctx, chromedp.Evaluate[string](`texts`))
		require.NoError(t, err)
		assert.NotContains(t, texts, "R1", page.name)
		assert.NotContains(t, strings.ToLower(texts), "pain", page.name)
	}
}

// A fitting in rehearsal on a terminal, in real time: how long a frame takes until it is on
// the fitter's page is logged.
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

// chromium starts a browser with two windows, each with connections of its own.
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
	}, 20*time.Second, 20*time.Millisecond, expression)
}
