package report_test

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/plots/internal/exampledata"
)

// smallest is the smallest text size allowed on a screen, in CSS pixels: 9 points at
// 96 pixels an inch, our own choice. Text in pictures scales with them and is tested
// in package plots.
const smallest = "12"

// probe is a script that measures the page that contains it and writes the result
// into the page's title. The test inserts it into a copy of a sheet.
const probe = `<script>addEventListener("load", () => {
  let least = 1e9, faint = 21;
  const light = c => [.2126, .7152, .0722].reduce((sum, part, i) => {
    const s = c[i] / 255;
    return sum + part * (s <= .04045 ? s / 12.92 : ((s + .055) / 1.055) ** 2.4) }, .05);
  const rgb = text => text.match(/[\d.]+/g).map(Number);
  const ground = e => { for (; e; e = e.parentElement) {
    const c = rgb(getComputedStyle(e).backgroundColor);
    if (c.length == 3 || c[3] > 0) return c }
    return [255, 255, 255] };
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let n; n = walk.nextNode();) {
    const e = n.parentElement;
    if (!n.data.trim() || e.closest("svg") || e.closest("script")) continue;
    least = Math.min(least, parseFloat(getComputedStyle(e).fontSize));
    const pair = [light(rgb(getComputedStyle(e).color)), light(ground(e))];
    faint = Math.min(faint, Math.max(...pair) / Math.min(...pair));
  }
  const inner = document.documentElement;
  document.title = JSON.stringify({small: least < ` + smallest + `, faint: faint < 4.5, wide: inner.scrollWidth > inner.clientWidth,
    fetched: performance.getEntriesByType("resource").length, at: inner.clientWidth});
});</script>`

func chromium(t *testing.T, args ...string) (stdout, stderr string) {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		t.Skip("no chromium here: .ci/run installs it")
	}
	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
	defer cancel()
	cmd := exec.CommandContext(ctx, path, append([]string{
		"--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
		"--disable-component-update", "--disable-sync", "--hide-scrollbars", "--enable-logging=stderr", "--user-data-dir=" + t.TempDir(),
	}, args...)...)
	var out, console bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &console
	require.NoError(t, cmd.Run(), console.String())
	return out.String(), console.String()
}

func saved(t *testing.T, html string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "sheet.html")
	require.NoError(t, os.WriteFile(path, []byte(html), 0o600))
	return path
}

var title = regexp.MustCompile(`<title>([^<]*)</title>`)

// In a browser, on narrow and wide screens, the sheets fetch nothing, do not scroll
// sideways, have no text that is too small or has a contrast below 4.5 (WCAG 2.2,
// see package contrast), and write nothing on the console.
func TestSheetsInChromium(t *testing.T) {
	t.Parallel()
	pages := map[string]string{"many shoes": fittingSheet(t, crowdedFitting())}
	pages["lab"] = write(t, exampledata.Usual())
	pages["progress"] = progressSheet(t, made(t, "D7", recovery()...))
	pages["much progress"] = progressSheet(t, crowded(t))
	// A page with all these faults shows that the probe finds them.
	pages["bad"] = `<meta charset="utf-8"><body><p style="font-size:11px;width:2000px;color:#777">x</p><img src="http://127.0.0.1:1/none.png"><script>console.error("heard")</script></body>`
	var host strings.Builder
	var want []string
	host.WriteString(`<title>waiting</title><body>`)
	for _, name := range []string{"many shoes", "lab", "progress", "much progress", "bad"} {
		path := saved(t, strings.Replace(pages[name], "</body>", probe+"</body>", 1))
		widths := []string{"375", "1280"}
		if name == "many shoes" {
			widths = []string{"375", "900", "1280"}
		}
		for _, width := range widths {
			// A window cannot be as narrow as a telephone, but a frame can.
			fmt.Fprintf(&host, `<iframe src="file://%s" style="border:0;width:%spx;height:900px"></iframe>`, path, width)
			bad := "false"
			fetched := "0"
			if name == "bad" {
				bad, fetched = "true", "1"
			}
			want = append(want, fmt.Sprintf(`{"small":%s,"faint":%s,"wide":%s,"fetched":%s,"at":%s}`, bad, bad, bad, fetched, width))
		}
	}
	host.WriteString(`<script>addEventListener("load", () => setTimeout(() => {
		document.title = [...document.querySelectorAll("iframe")].map(f => f.contentDocument.title).join(" ") }, 100))</script>`)
	dom, console := chromium(t, "--allow-file-access-from-files", "--window-size=1400,1000", "--virtual-time-budget=5000", "--dump-dom", "file://"+saved(t, host.String()))
	m := title.FindStringSubmatch(dom)
	require.NotNil(t, m, dom)
	assert.Equal(t, strings.Join(want, "\n"), strings.ReplaceAll(m[1], "} {", "}\n{"))
	assert.Contains(t, console, "heard", "the test does not see the console")
	for line := range strings.Lines(console) {
		if strings.Contains(line, "CONSOLE") && !strings.Contains(line, "heard") && !strings.Contains(line, "none.png") && !strings.Contains(line, "127.0.0.1:1") {
			t.Error(line)
		}
	}
}

// papers are the sizes of paper that a sheet has to fit on, in inches.
var papers = map[string][2]float64{"A4": {210 / 25.4, 297 / 25.4}, "Letter": {8.5, 11}}

// onePage matches an object of a PDF that is a page.
var onePage = regexp.MustCompile(`/Type\s*/Page\b`)

// Printing on paper is tested with one browser.
func TestSheetsPrint(t *testing.T) {
	t.Parallel()
	toPDF := printer(t)
	t.Run("on one page", func(t *testing.T) { printOnOnePage(t, toPDF) })
	t.Run("lab sheets on full pages", func(t *testing.T) { labPrintsOnFullPages(t, toPDF) })
	t.Run("progress on two pages", func(t *testing.T) { progressPrintsOnTwoPages(t, toPDF) })
}

// printOnOnePage checks that the sheets print on one page, on A4 and on Letter unless the
// sheet states the paper. Only the fullest are printed unless APLOMB_LONG is 1. Every
// page of a PDF is an object of the type Page (ISO 32000-1, 7.7.3.3).
func printOnOnePage(t *testing.T, toPDF printing) {
	pages := map[string]string{"crowded": fittingSheet(t, crowdedFitting()), "four shoes": fittingSheet(t, fourShoes())}
	if os.Getenv("APLOMB_LONG") == "1" {
		for name, d := range fittings() {
			pages[name] = fittingSheet(t, d)
		}
	}
	pages["two"] = `<p style="break-after:page">1</p><p>2</p>`
	for name, html := range pages {
		for paper, size := range papers {
			pdf := toPDF(html, size)
			want := 1
			if name == "two" {
				want = 2
			}
			assert.Len(t, onePage.FindAll(pdf, -1), want, "%s on %s", name, paper)
		}
	}
}
