package guide_test

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/calibrate"
	"aplomb/analyze/scale"
	"aplomb/cmd/aplomb/guide"
	"aplomb/device"
)

func TestEveryFileIsAPage(t *testing.T) {
	files, err := filepath.Glob("*.md")
	require.NoError(t, err)
	var pages []string
	for _, p := range guide.Pages() {
		pages = append(pages, p.Name+".md")
		assert.Less(t, len(p.Title), 66, "%s: aplomb guide lists it on a line of 80 characters", p.Name)
		assert.True(t, strings.HasPrefix(p.Text(), strings.ToUpper(p.Title)+"\n"), p.Name)
	}
	assert.ElementsMatch(t, files, pages)
}

// A page is read on a terminal of 80 columns. Code is printed as it is: the
// tables of a transcript are as wide as the program makes them.
func TestTextFitsATerminal(t *testing.T) {
	for _, p := range guide.Pages() {
		source, err := os.ReadFile(p.Name + ".md")
		require.NoError(t, err)
		code := map[string]bool{}
		for _, block := range regexp.MustCompile("(?s)\n```\\w+\n(.*?)\n```\n").FindAllSubmatch(source, -1) {
			for _, line := range strings.Split(string(block[1]), "\n") {
				code["  "+line] = true
			}
		}
		text := p.Text()
		for line := range strings.SplitSeq(text, "\n") {
			if !code[line] {
				assert.LessOrEqual(t, utf8.RuneCountInString(line), 80, "%s: %s", p.Name, line)
			}
			assert.NotRegexp(t, "^```|^#|<!--|<img|\\]\\(|\x1b", line, p.Name)
		}
		assert.NotContains(t, text, "\n\n\n", p.Name)
	}
}

// The examples of the two profiles on the page about files can be used as they stand.
func TestExampleProfiles(t *testing.T) {
	page, err := os.ReadFile("files.md")
	require.NoError(t, err)
	blocks := regexp.MustCompile("(?s)```toml\n(.*?)```").FindAllSubmatch(page, -1)
	require.Len(t, blocks, 3, "a strip, its lines, a shoe")
	strip, err := device.ParseStrip("files.md, a strip", slices.Concat(blocks[0][1], blocks[1][1]))
	require.NoError(t, err)
	assert.True(t, math.IsInf(strip.Crosstalk.TieOhm, 1))
	_, err = device.ParseShoe("files.md, a shoe", blocks[2][1])
	assert.NoError(t, err)
}

// What the page about calibration says of checks is what the program does.
func TestNumbersOfChecks(t *testing.T) {
	page, err := os.ReadFile("calibrate.md")
	require.NoError(t, err)
	text := strings.Join(strings.Fields(string(page)), " ")
	assert.Contains(t, text, fmt.Sprintf("more than %d days old", scale.MaxAgeDays))
	assert.Contains(t, text, fmt.Sprintf("the uncertainty of the weights, %g %% unless --load-u", 100*calibrate.DefaultLoadU))
	assert.Contains(t, text, "a strip that reads 4 % more turns 50 % into 51 %")
	assert.InDelta(t, 0.01, scale.ShareShift(0.5, 0.04, 0), 1e-12)
	limits := calibrate.DefaultLimits()
	assert.Contains(t, text, fmt.Sprintf("passes within %g %% of the load and %g mm of the place", 100*limits.Load, limits.CoPMM))
}
