package report_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"html"
	"image/color"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/plots/internal/contrast"
	"aplomb/plots/internal/exampledata"
	"aplomb/plots/report"
	"aplomb/plots/words"
)

func data(f exampledata.Fitting) report.Data {
	return report.Data{Results: f.Results, Comparison: f.Comparison}
}

func write(t testing.TB, f exampledata.Fitting) string {
	t.Helper()
	if c := f.Comparison; len(c.Shoes) > 0 { // an example says the conditions of shoes alone
		for i := range c.Differences {
			c.Differences[i].Conditions = c.Shoes[0].Conditions
		}
		for i := range c.Between {
			c.Between[i].Conditions = c.Shoes[0].Conditions
		}
		if c.RestsOn != nil {
			c.RestsOn.Conditions = c.Shoes[0].Conditions
		}
		for i := range c.Feet {
			c.Feet[i].Conditions = c.Shoes[0].Conditions
		}
	}
	var b bytes.Buffer
	require.NoError(t, report.Write(&b, data(f)))
	return b.String()
}

var tag = regexp.MustCompile(`<(/?)([a-zA-Z][a-zA-Z0-9]*)[^<>]*?(/?)>`)

// balanced returns an error that names an element which is not closed as HTML
// requires.
func balanced(html string) error {
	var open []string
	for _, m := range tag.FindAllStringSubmatch(html, -1) {
		closes, name, empty := m[1] == "/", m[2], m[3] == "/"
		switch {
		case empty || slices.Contains([]string{"meta", "br", "col"}, name):
		case !closes:
			open = append(open, name)
		case len(open) == 0 || open[len(open)-1] != name:
			return fmt.Errorf("</%s> while %v is open", name, open)
		default:
			open = open[:len(open)-1]
		}
	}
	if len(open) > 0 {
		return fmt.Errorf("%v is not closed", open)
	}
	return nil
}

// text returns the text of a page, without its pictures.
func text(page string) string {
	page = strings.ReplaceAll(page, "\u00a0", " ") // between numbers and units
	page = regexp.MustCompile(`(?s)<style>.*?</style>|<script .*?</script>|<svg.*?</svg>`).ReplaceAllString(page, "")
	return html.UnescapeString(regexp.MustCompile(`\s+`).ReplaceAllString(tag.ReplaceAllString(page, " "), " "))
}

// selfContained fails if a page loads, runs or links to anything outside itself.
func selfContained(t *testing.T, html string) {
	t.Helper()
	lower := strings.ToLower(html)
	assert.Equal(t, 1, strings.Count(lower, "<script"), "the provenance, which is no program")
	provenanceIn(t, html)
	for _, bad := range []string{"<link", "<img", "<iframe", "<object", "<embed", "<base", "src=", "url(", "@import", "javascript:"} {
		assert.False(t, strings.Contains(lower, bad), "the page holds %q", bad)
	}
	for _, m := range regexp.MustCompile(`href="([^"]*)"`).FindAllStringSubmatch(lower, -1) {
		assert.True(t, strings.HasPrefix(m[1], "#"), "a link outside: %s", m[1])
	}
	// Only the names of SVG's own vocabulary, which no browser fetches, look like addresses.
	rest := strings.NewReplacer(`xmlns="http://www.w3.org/2000/svg"`, "", `xmlns:xlink="http://www.w3.org/1999/xlink"`, "").Replace(lower)
	assert.False(t, strings.Contains(rest, "://"), "an address in the page")
}

func TestReport(t *testing.T) {
	html := write(t, exampledata.Usual())
	require.Equal(t, html, write(t, exampledata.Usual()), "the same data, other bytes")
	require.NoError(t, balanced(html))
	selfContained(t, html)
	page := text(html)
	for _, want := range []string{
		"Over the box on both feet in B, behind in A Left foot: in A the load sits behind the target zone (kern), pulled back, 6.2 mm behind the centre (95 % interval 4.5 to 7.9). In B it is over the box",
		"1 March 2025 4 recordings 22 relevés conditions: support barre, rise roll-up, position parallel, floor wood",
		"behind (pulled back)", "aborted, not measured", "our assumption", "8 degrees of freedom", "0.75 kPa a count",
		"Pain means stop", "never diagnoses", "spotter", "290-292", "There is no p without an interval",
		"Written by aplomb 0.1.0 (commit 5a72c400), algorithm 0123456789ab; validated in simulation and on an emulated board, not yet on a physical strip.", "2025-03-01 10:00 UTC", "support barre, rise roll-up, position parallel, floor wood", "lost: 37",
		"Sources of uncertainty", "the seats of the strips 94 %", "the dancer 6 %", "the sensor under 1 %",
		"Mounting the strip 3 times under each shoe would bring it to ±1.9 mm. 3 more relevés in each shoe would not improve it.",
		"One dancer, one day; this says nothing about other dancers. Mountings: A 2, B 2. This difference has 10 degrees of freedom.",
	} {
		assert.Contains(t, page, want)
	}
	assert.Equal(t, 1+1+8+2+4, strings.Count(html, "<svg"), "place, shoes overlaid, shoes, feet, recordings")
	assert.Less(t, len(html), 1<<20)
}

func TestReportOfLess(t *testing.T) {
	one := exampledata.A
	one.Verdict = [2]measure.Verdict{measure.TooCloseToCall, measure.TooCloseToCall}
	several := exampledata.Usual()
	several.Comparison.Preferred, several.Comparison.Answer = "", "Too close to call on both feet in A and B. Nothing was measured in C."
	noTraces := exampledata.Usual()
	for _, r := range noTraces.Results {
		r.Traces = [2][]measure.Sample{}
	}
	for name, c := range map[string]struct {
		fitting  exampledata.Fitting
		has, not []string
	}{
		"one shoe":       {exampledata.New(1, 6, device.Feet[:], one), []string{"In shoe A it is too close to call on both feet", "Left against right"}, []string{"Shoe against shoe", "B − A", "Sources of uncertainty"}},
		"one shoe, over": {exampledata.New(1, 6, device.Feet[:], exampledata.B), []string{"In shoe B the load sits over the box on both feet"}, nil},
		"one foot": {exampledata.New(2, 3, []device.Foot{device.Right}, exampledata.A, exampledata.B),
			[]string{"Shoe against shoe", "no relevé was measured on both feet"}, []string{"left − right", "Left against right"}},
		"one relevé": {exampledata.New(1, 1, device.Feet[:], exampledata.A, exampledata.B), []string{"Differences, mm 95 % interval −2.2 7.4 B − A, left +6.6 – could be chance"}, []string{"NaN", "Sources of uncertainty"}},
		"no winner":  {several, []string{"Too close to call on both feet in A and B Nothing was measured in C. Left foot"}, nil},
		"no traces":  {noTraces, []string{"How it was measured"}, []string{"The recordings"}},
		"nothing":    {exampledata.Fitting{Comparison: &compare.Comparison{Why: "No relevé could be measured.", Provenance: &measure.Provenance{}}}, []string{"No relevé could be measured", "Cautions"}, []string{"Where the load sits", "Strips", "The declared measures"}},
	} {
		t.Run(name, func(t *testing.T) {
			html := write(t, c.fitting)
			require.NoError(t, balanced(html))
			selfContained(t, html)
			page := text(html)
			for _, want := range c.has {
				assert.Contains(t, page, want)
			}
			for _, not := range append(c.not, "<nil>", "0x", "%!", "ZgotmplZ") {
				assert.NotContains(t, page, not)
			}
		})
	}
}

// The first page has the answer with the warnings that may have changed it, the declared
// measures and the assumptions; warnings for the record are in the appendix.
func TestLabSheetBeginsWithAnAbstract(t *testing.T) {
	f := exampledata.Usual()
	f.Comparison.Warnings = append(f.Comparison.Warnings, measure.Warn(measure.SeveralFloors, measure.Values{}))
	f.Results[1].Warnings = []measure.Warning{measure.Warn(measure.HostClock, measure.Values{})}
	first, appendix, found := strings.Cut(write(t, f), "<main>")
	require.True(t, found)
	inOrder(t, text(first), "Over the box on both feet in B", "Warnings: this may have changed the answer", "several floors", "The declared measures",
		"A, left A, right B, left B, right", "Front to back (over), mm −7.9 to 3.3 −6.2 ± 1.7 −6.3 ± 1.6 −1.2 ± 1.6 −0.5 ± 1.7", "Side to side (medial), mm",
		"Platform in contact (contact share), % 0 to 100 73 (64 to 82) 70 (60 to 81)", "Load, N", "Load share, left, % 43 to 47 46 ± 1 46 ± 1", "Sources of uncertainty", "Assumed, not measured: mountings repeat to 1.0 mm (L-01).")
	inOrder(t, text(appendix), "Warnings for the record", "A-2.mcap: the strip sends no clock", "Cautions")
	assert.NotContains(t, text(appendix), "several floors")
	assert.NotContains(t, text(first), "clock")
	assert.Contains(t, first, `@page lab { @top-left { content: "Pointe-shoe fitting, dancer D-07, 1 March 2025" } }`)
}

// With many shoes the table of the declared measures has a line for each of them.
func TestDeclaredMeasuresOfManyShoes(t *testing.T) {
	page := text(write(t, exampledata.New(1, 2, device.Feet[:], shoesOf("A", "B", "C", strings.Repeat("W", 60)+"1", strings.Repeat("W", 60)+"2")...)))
	inOrder(t, page, "The declared measures Front to back (over), mm, −", "Side to side (medial), mm, −", "A, left", "B, right", "WWWWW…WWWW1, left", "WWWWW…WWWW2, right", "Verdicts", strings.Repeat("W", 60)+"1 left")
}

// Texts of users appear as they were written and are never markup.
func TestTextsOfUsersAreEscaped(t *testing.T) {
	const evil = `<script>alert("1")</script><img src=x onerror='x'>&amp;`
	a, b := exampledata.A, exampledata.B
	a.Shoe.Code, a.Shoe.Padding = evil, evil
	b.Shoe.Code = evil + "2"
	f := exampledata.New(1, 3, device.Feet[:], a, b)
	f.Comparison.Dancer, f.Comparison.Answer, f.Comparison.Findings = evil, evil+". "+evil, []string{evil}
	f.Comparison.Warnings = []measure.Warning{measure.Warn(measure.DancerAssumed, measure.Values{Dancer: evil})}
	f.Comparison.Shoes[0].Support, f.Comparison.Shoes[0].Rise = evil, evil
	for i, r := range f.Results {
		r.Recording.File = evil
		r.Warnings = []measure.Warning{measure.Warn(measure.RecordingCut, measure.Values{Detail: evil})}
		r.Releves[0].Warnings = []measure.Warning{measure.Warn(measure.CellsFilled, measure.Values{Cells: []measure.FaultyCell{{Fault: evil}}})}
		m := &f.Results[i].Meta
		m.Dancer, m.Software, m.Support, m.Rise, m.Position, m.Floor, m.Feedback = evil, evil, evil, evil, evil, evil, evil
		for _, side := range m.Sides {
			side.Strip.Name, side.Mounting, side.Padding, side.Fixing, side.Clock, side.Format = evil, evil, evil, evil, evil, evil
		}
	}
	d := data(f)
	p := d.Comparison.Provenance
	p.Version, p.Commit, p.Algorithm, p.Inputs[0].File, p.Shoes = evil, evil, evil, evil, []measure.Content{{Name: evil}}
	d.Results[0].Provenance.Inputs[0].ID, d.Results[0].Provenance.Inputs[0].SHA256 = evil, evil
	var out bytes.Buffer
	require.NoError(t, report.Write(&out, d))
	html := out.String()
	require.NoError(t, balanced(html))
	assert.Equal(t, *p, provenanceIn(t, html))
	for _, bad := range []string{"<script>", "<img", "onerror='x'>"} {
		assert.False(t, strings.Contains(html, bad), "the page holds %q", bad)
	}
	assert.Contains(t, html, "<h1>&lt;script&gt;alert(&#34;1&#34;)&lt;/script&gt;")
	assert.Contains(t, html, "&amp;amp;")
}

// provenanceIn reads the provenance that a sheet carries for programs.
func provenanceIn(t testing.TB, html string) (p measure.Provenance) {
	t.Helper()
	found := regexp.MustCompile(`<script type="application/json" id="provenance">(.*?)</script>`).FindAllStringSubmatch(html, -1)
	require.Len(t, found, 1)
	require.NoError(t, json.Unmarshal([]byte(found[0][1]), &p))
	return p
}

// Every sheet carries the whole provenance, and a line of it for people. The lab
// sheet shows the recordings' hashes as well.
func TestSheetsCarryTheirProvenance(t *testing.T) {
	f := exampledata.Usual()
	want := *f.Comparison.Provenance
	require.Len(t, want.Inputs, 4)
	var fitting, progress bytes.Buffer
	require.NoError(t, report.WriteFitting(&fitting, data(f)))
	require.NoError(t, report.WriteProgress(&progress, progressOf(t, followed(t))))
	lab := write(t, f)
	for _, html := range []string{lab, fitting.String(), progress.String()} {
		assert.Equal(t, want, provenanceIn(t, html))
		assert.Contains(t, html, "Written by aplomb 0.1.0 (commit 5a72c400), algorithm 0123456789ab")
		assert.Contains(t, html, words.Validated)
	}
	for _, in := range want.Inputs {
		assert.Contains(t, lab, "<code>"+in.SHA256+"</code>")
		assert.Contains(t, lab, "<code>"+in.ID+"</code>")
	}
}

func TestWhatIsMissingIsAnError(t *testing.T) {
	d := data(exampledata.Usual())
	d.Comparison.Provenance = nil
	assert.ErrorContains(t, report.Write(&bytes.Buffer{}, d), "provenance")
	assert.ErrorContains(t, report.WriteFitting(&bytes.Buffer{}, d), "provenance")
	p := progressOf(t, followed(t))
	p.Provenance = nil
	assert.ErrorContains(t, report.WriteProgress(&bytes.Buffer{}, p), "provenance")
	assert.ErrorContains(t, report.Write(&bytes.Buffer{}, report.Data{}), "comparison")
	full := errors.New("disk full")
	assert.ErrorIs(t, report.Write(failingWriter{full}, data(exampledata.Usual())), full)
}

type failingWriter struct{ err error }

func (f failingWriter) Write([]byte) (int, error) { return 0, f.err }

// The colours of style.css have the contrast that level AA of WCAG 2.2 requires:
// every text on every background, and the parts that carry a meaning (bars, the
// keyboard focus). --rule separates lines of tables and carries no meaning.
func TestStyleIsReadable(t *testing.T) {
	css, err := os.ReadFile("style.css")
	require.NoError(t, err)
	for _, of := range []string{"fitting.css", "lab.css", "progress.css"} {
		more, err := os.ReadFile(of)
		require.NoError(t, err)
		css = append(css, more...)
	}
	inks := map[string]color.NRGBA{}
	for _, m := range regexp.MustCompile(`--(\w+): #(\w{6});`).FindAllStringSubmatch(string(css), -1) {
		c := color.NRGBA{A: 255}
		_, err := fmt.Sscanf(m[2], "%02x%02x%02x", &c.R, &c.G, &c.B)
		require.NoError(t, err)
		inks[m[1]] = c
	}
	assert.Len(t, regexp.MustCompile(`#[0-9a-f]{3,8}\b|rgb|hsl|opacity`).FindAllString(string(css), -1), len(inks), "a colour that is no variable")
	used := func(property string) map[string]bool {
		out := map[string]bool{}
		for _, m := range regexp.MustCompile(`[\s{;]`+property+`:[^;]*var\(--(\w+)\)`).FindAllStringSubmatch(string(css), -1) {
			require.Contains(t, inks, m[1])
			out[m[1]] = true
		}
		require.NotEmpty(t, out, property)
		return out
	}
	for ground := range used("background") {
		for ink := range used("color") {
			assert.GreaterOrEqual(t, contrast.Ratio(inks[ink], inks[ground]), contrast.Text, "%s on %s", ink, ground)
		}
		for ink := range used("(?:outline|border-left|border-top|border-bottom)") {
			if ink != "rule" {
				assert.GreaterOrEqual(t, contrast.Ratio(inks[ink], inks[ground]), float64(contrast.Graphics), "%s on %s", ink, ground)
			}
		}
	}
}

func BenchmarkReport(b *testing.B) {
	d := data(exampledata.Usual())
	for b.Loop() {
		var out bytes.Buffer
		if err := report.Write(&out, d); err != nil {
			b.Fatal(err)
		}
	}
}
