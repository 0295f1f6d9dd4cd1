package report_test

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/device"
	"aplomb/plots/internal/exampledata"
)

// printing prints a sheet as PDF, on paper of a size in inches where the sheet does not say
// which.
type printing func(html string, paper [2]float64) []byte

// printer starts a browser that prints.
func printer(t *testing.T) printing {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		t.Skip("no chromium here: .ci/run installs it")
	}
	browser, stop := chromedp.NewExecAllocator(t.Context(), append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.UserDataDir(t.TempDir()))...)
	t.Cleanup(stop)
	browser, stop = chromedp.NewContext(browser)
	t.Cleanup(stop)
	own := true
	return func(html string, paper [2]float64) []byte {
		t.Helper()
		require.NoError(t, chromedp.Do(browser, chromedp.Navigate("file://"+saved(t, html))))
		made, err := chromedp.Call(browser, page.PrintToPDF, page.PrintToPDFParams{PaperWidth: paper[0], PaperHeight: paper[1], PreferCSSPageSize: &own})
		require.NoError(t, err)
		return made.Data
	}
}

// filled returns for each page of a PDF how far down it is printed, from 0 to 1, without
// the page number at its foot.
func filled(t *testing.T, pdf []byte) (all []float64) {
	t.Helper()
	cmd := exec.Command("pdftoppm", "-r", "20", "-gray", "-")
	cmd.Stdin = bytes.NewReader(pdf)
	out, err := cmd.Output()
	require.NoError(t, err)
	const foot = 0.055 // height of the foot of a page of the lab sheet
	for in := bytes.NewReader(out); in.Len() > 0; {
		var width, height, most, last int
		_, err := fmt.Fscanf(in, "P5\n%d %d\n%d\n", &width, &height, &most)
		require.NoError(t, err)
		grey := make([]byte, width*height)
		_, err = in.Read(grey)
		require.NoError(t, err)
		for y := range int(float64(height) * (1 - foot)) {
			if slices.Min(grey[y*width:(y+1)*width]) < 200 {
				last = y
			}
		}
		all = append(all, float64(last+1)/float64(height))
	}
	return all
}

// labCase is a fitting with the most pages that its lab sheet may have, 0 for any number.
type labCase struct {
	exampledata.Fitting
	most int
}

// shoesOf returns shoes with the given codes, every third one square and the others
// tapered.
func shoesOf(codes ...string) (all []exampledata.ShoeCase) {
	for i, code := range codes {
		s := exampledata.A
		if i%3 == 1 {
			s = exampledata.B
		}
		s.Shoe.Code = code
		all = append(all, s)
	}
	return all
}

func labCases() map[string]labCase {
	all := map[string]labCase{
		"two shoes":   {exampledata.Usual(), 8},
		"three shoes": {exampledata.New(2, 6, device.Feet[:], shoesOf("A", "B", "C")...), 12},
	}
	if os.Getenv("APLOMB_LONG") != "1" {
		return all
	}
	long := strings.Repeat("long-code-", 6)[:58]
	small, large := exampledata.A, exampledata.B
	small.Shoe.Code, small.Shoe.PlatformMM = "small", [2]float64{24, 14}
	large.Shoe.Code, large.Shoe.PlatformMM = "large", [2]float64{52, 32}
	all["one shoe"] = labCase{exampledata.New(1, 6, device.Feet[:], exampledata.A), 6}
	all["one foot"] = labCase{exampledata.New(2, 6, device.Feet[1:], exampledata.A, exampledata.B), 8}
	all["one relevé"] = labCase{exampledata.New(1, 1, device.Feet[:], exampledata.A, exampledata.B), 8}
	all["forty relevés"] = labCase{exampledata.New(1, 40, device.Feet[:], exampledata.A, exampledata.B), 0}
	all["twelve shoes"] = labCase{exampledata.New(1, 3, device.Feet[:], shoesOf(strings.Split("ABCDEFGHIJKL", "")...)...), 0}
	all["long codes"] = labCase{exampledata.New(2, 6, device.Feet[:], shoesOf(long+"-1", long+"-2")...), 10}
	all["two sizes"] = labCase{exampledata.New(2, 6, device.Feet[:], small, large), 8}
	nothing := exampledata.New(1, 1, device.Feet[:], exampledata.A)
	nothing.Results[0].Releves = nil
	c := nothing.Comparison
	c.Shoes, c.Differences, c.Feet, c.RestsOn, c.Findings, c.Answer = nil, nil, nil, nil, nil, "No relevé could be measured."
	all["nothing measured"] = labCase{nothing, 2}
	return all
}

// labPrintsOnFullPages checks that the lab sheet of two shoes, in two mountings with six
// relevés each, prints on at most 8 pages, and that of three on at most 12, on A4 and on
// Letter, with no page but the last less than half full. Only these two are printed
// unless APLOMB_LONG is 1.
func labPrintsOnFullPages(t *testing.T, toPDF printing) {
	if _, err := exec.LookPath("pdftoppm"); err != nil {
		t.Skip("no pdftoppm here: .ci/run installs it")
	}
	bad := filled(t, toPDF(`<p style="break-after:page">a</p><p>b</p>`, papers["Letter"]))
	require.Len(t, bad, 2, "the test does not see pages")
	assert.Less(t, bad[0], 0.5, "the test does not see how full a page is")
	for name, c := range labCases() {
		html := write(t, c.Fitting)
		for paper, size := range papers {
			if paper == "A4" && os.Getenv("APLOMB_LONG") != "1" {
				continue
			}
			fill := filled(t, toPDF(html, size))
			t.Logf("%s on %s: %d pages, printed down to %.2f", name, paper, len(fill), fill)
			if c.most > 0 {
				assert.LessOrEqual(t, len(fill), c.most, "%s on %s", name, paper)
			}
			for i, f := range fill[:len(fill)-1] {
				assert.GreaterOrEqual(t, f, 0.5, "%s on %s: page %d", name, paper, i+1)
			}
		}
	}
}
