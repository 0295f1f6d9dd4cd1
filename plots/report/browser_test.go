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

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/plots/internal/exampledata"
	"aplomb/plots/report"
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

// fittingSheets returns the fitting sheets of small, ordinary and large fittings.
func fittingSheets(t *testing.T) map[string]string {
	t.Helper()
	long := strings.Repeat("W", 300)
	var many, won []exampledata.ShoeCase
	for _, code := range []string{"A", "B<script>", long, "D", "E", "F"} {
		s := exampledata.A
		s.Shoe.Code, s.Shoe.Padding = code, long
		many = append(many, s)
	}
	for _, code := range []string{"A", "B", long, "D", "E"} { // shoe B is over the box, so that there is no advice
		s := exampledata.A
		if code == "B" {
			s = exampledata.B
		}
		s.Shoe.Code, s.Shoe.Padding = code, long
		won = append(won, s)
	}
	out := map[string]string{}
	for name, f := range map[string]exampledata.Fitting{
		"usual": exampledata.Usual(), "one shoe": exampledata.New(1, 6, device.Feet[:], exampledata.A), "many shoes": exampledata.New(1, 3, device.Feet[:], many...),
		"many shoes and an answer": exampledata.New(1, 3, device.Feet[:], won...),
	} {
		if name != "many shoes and an answer" {
			withEvidence(f.Comparison)
		}
		if name != "usual" {
			withSaid(f.Comparison)
		}
		if name == "many shoes and an answer" {
			f.Comparison.Stop = "Stop: pain rose from 2 to 5 of 10. Hand over to the dancer's clinician. (From 4 on, or a rise of 2: our own cautious default.)"
		}
		var b bytes.Buffer
		require.NoError(t, report.WriteFitting(&b, data(f)))
		out[name] = b.String()
	}
	return out
}

// withSaid adds to a comparison what people see and say at a fitting, more of it than there
// is room for.
func withSaid(c *compare.Comparison) {
	long := strings.Repeat("W", 300)
	c.VisitRecords = []measure.Visit{{Name: "2026-03-14", Choice: c.Shoes[0].Shoe, ChoiceWhy: long}}
	three := 3
	for _, s := range c.Shoes {
		if s.Foot == device.Left {
			code := s.Shoe
			c.Observations = append(c.Observations, compare.Observation{
				Recording: "recording 1", Shoes: measure.PerFoot[string]{Left: &code, Right: &code},
				Notes:  []measure.Note{{TimeS: 12.4, Releve: 2, During: true, Text: long}},
				Remark: &measure.Remark{Saw: []string{"sickles", "sinks"}, Note: long, Comfort: 2, Pinches: []string{"little toe"}, Pain: &three, Decision: "use"},
			})
		}
	}
}

// withEvidence changes a comparison so that its shoes give evidence for or against
// options for the first shoe: each differs from it in one property.
func withEvidence(c *compare.Comparison) {
	for i := range c.Differences {
		d := &c.Differences[i]
		d.Support, d.Rise = c.Shoes[0].Support, c.Shoes[0].Rise
		d.Difference, d.CI95, d.Wording = 2, &[2]float64{1, 3}, compare.Clear
		if d.To == "E" {
			d.Difference, d.CI95 = -2, &[2]float64{-3, -1}
		}
		for name, to := range map[string]string{compare.Crown: "B", compare.PlatformWidth: "D", compare.Squareness: "E"} {
			if d.To == to || d.To == "B<script>" && to == "B" {
				c.Changes = append(c.Changes, compare.Change{From: d.From, To: d.To,
					Properties: []compare.Property{{Name: name, From: "1", To: "2", By: 1}}, Moved: []compare.Difference{*d}})
			}
		}
	}
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
	pages := fittingSheets(t)
	pages["lab"] = write(t, exampledata.Usual())
	pages["progress"] = progressSheet(t, progressOf(t, followed(t)))
	pages["much progress"] = progressSheet(t, crowded(t, followed(t)))
	// A page with all these faults shows that the probe finds them.
	pages["bad"] = `<meta charset="utf-8"><body><p style="font-size:11px;width:2000px;color:#777">x</p><img src="http://127.0.0.1:1/none.png"><script>console.error("heard")</script></body>`
	var host strings.Builder
	var want []string
	host.WriteString(`<title>waiting</title><body>`)
	for _, name := range []string{"many shoes", "lab", "progress", "much progress", "bad"} {
		path := saved(t, strings.Replace(pages[name], "</body>", probe+"</body>", 1))
		for _, width := range []string{"375", "1280"} {
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

// The sheets with the most content print on one A4 page, counted by poppler.
func TestSheetsPrintOnOnePage(t *testing.T) {
	t.Parallel()
	if _, err := exec.LookPath("pdfinfo"); err != nil {
		t.Skip("no pdfinfo here: .ci/run installs it")
	}
	pages := fittingSheets(t)
	pages["much progress"] = progressSheet(t, crowded(t, followed(t)))
	for _, name := range []string{"many shoes", "many shoes and an answer", "much progress"} {
		html := pages[name]
		pdf := filepath.Join(t.TempDir(), "sheet.pdf")
		chromium(t, "--no-pdf-header-footer", "--print-to-pdf="+pdf, "file://"+saved(t, html))
		info, err := exec.Command("pdfinfo", pdf).Output()
		require.NoError(t, err)
		assert.Regexp(t, `Pages:\s+1\n`, string(info), name)
		assert.Regexp(t, `Page size:\s+59[45].* x 84[12].*A4`, string(info), name)
	}
}

func TestFittingSheet(t *testing.T) {
	pages := fittingSheets(t)
	for name, html := range pages {
		require.NoError(t, balanced(html), name)
		selfContained(t, html)
		assert.Contains(t, text(html), "Pain means stop", name)
	}
	assert.Contains(t, text(pages["usual"]), "Shoe A: left foot behind (pulled back), right foot behind (pulled back).")
	assert.Contains(t, text(pages["usual"]), "platform 34 × 21 mm, tapered box, crown 22 mm, soft shank")
	assert.Contains(t, text(pages["many shoes"]), "2 more shoes are in the lab sheet")
	assert.Contains(t, pages["many shoes"], "B&lt;script&gt;")
	for _, want := range []string{"What to try next", "Common practice, no published source", "A higher crown, if this one is low for the foot. (For both feet.) Watch: over should move forward"} {
		assert.Contains(t, text(pages["many shoes"]), want)
	}
	assert.Contains(t, text(pages["usual"]), "What to try next Nothing to change on these numbers.", "over the box on both feet")

	// The shoes tried give evidence for an option.
	showed := data(exampledata.Usual())
	withEvidence(showed.Comparison)
	showed.Comparison.Preferred = ""
	showed.Comparison.Ranking = []compare.RankedShoe{{Place: 1, Shoe: "A"}, {Place: 2, Shoe: "B"}}
	var tried bytes.Buffer
	require.NoError(t, report.WriteFitting(&tried, showed))
	assert.Contains(t, text(tried.String()), "A higher crown, if this one is low for the foot. (For both feet.)")
	assert.Contains(t, text(tried.String()), "see that the foot does not sink. The shoes tried speak for it.")
	assert.LessOrEqual(t, strings.Count(tried.String(), "<li><strong>"), 3)

	// Where several properties changed at once, none is credited.
	several := data(exampledata.Usual())
	withEvidence(several.Comparison)
	several.Comparison.Preferred, several.Comparison.Ranking = "", showed.Comparison.Ranking
	for i := range several.Comparison.Changes {
		change := &several.Comparison.Changes[i]
		change.Properties = append(change.Properties, compare.Property{Name: compare.Shank, From: "soft", To: "hard", By: 2})
	}
	var together bytes.Buffer
	require.NoError(t, report.WriteFitting(&together, several))
	assert.Contains(t, text(together.String()), "In the shoes tried it changed together with shank: no single cause.")
	assert.NotContains(t, text(together.String()), "speak for it")

	pained := data(exampledata.New(1, 6, device.Feet[:], exampledata.A))
	pained.Seen.Pain = true
	var sheet bytes.Buffer
	require.NoError(t, report.WriteFitting(&sheet, pained))
	assert.Contains(t, text(sheet.String()), "There is pain: stop here")
	assert.NotContains(t, text(sheet.String()), "A higher crown")
	assert.NotContains(t, text(sheet.String()), "What to try next")

	d := data(exampledata.Usual())
	d.Inches = true
	var b bytes.Buffer
	require.NoError(t, report.WriteFitting(&b, d))
	assert.Contains(t, text(b.String()), "platform 1.34 × 0.83 in, tapered box, crown 0.87 in")
	assert.ErrorContains(t, report.WriteFitting(&b, report.Data{}), "comparison")
	require.NoError(t, report.Write(&b, d))
	assert.Contains(t, text(b.String()), "platform 1.34 × 0.83 in, outline exponent 2.4, tapered box, crown 0.87 in, soft shank")
	assert.NotRegexp(t, `crown \d+ mm`, b.String(), "in a picture")
	assert.Contains(t, b.String(), ">tapered box, crown 0.87 in, soft shank<")
}
