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
	"gonum.org/v1/gonum/stat/distuv"

	"aplomb/analyze/calibrate"
	"aplomb/analyze/scale"
	"aplomb/analyze/stats"
	"aplomb/cmd/aplomb/guide"
	"aplomb/device"
	"aplomb/device/link"
	"aplomb/device/platform"
	"aplomb/device/reference"
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

// A page fits a terminal of 80 columns. Code is printed unchanged: the tables of a
// transcript are as wide as the program makes them.
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
			assert.NotRegexp(t, `[.;:)] -( [A-Za-z]|$)`, line, "%s: an item of a list does not begin its line", p.Name)
			assert.NotRegexp(t, `[.;:)] \d\. [A-Z]`, line, "%s: a step does not begin its line", p.Name)
			assert.NotRegexp(t, `^ *%`, line, "%s: a number is parted from its unit", p.Name)
		}
		assert.NotContains(t, text, "\n\n\n", p.Name)
	}
}

// The examples of the two profiles on the page about files are valid.
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

// The largest values on the page about files are accepted in a file, and larger ones refused.
func TestLargestValues(t *testing.T) {
	page, err := os.ReadFile("files.md")
	require.NoError(t, err)
	_, section, _ := strings.Cut(string(page), "## Largest values")
	section, _, _ = strings.Cut(section, "\n## ")
	text := strings.Join(strings.Fields(section), " ")
	read := func(kind, profile string) error {
		path := filepath.Join(t.TempDir(), "p.toml")
		require.NoError(t, os.WriteFile(path, []byte(profile), 0o600))
		if kind == "shoe" {
			_, err = device.ReadShoe(t.Context(), path)
		} else {
			_, err = device.ReadStrip(t.Context(), path)
		}
		return err
	}
	const strip = "strip = \"L\"\nfoot = \"left\"\npitch_mm = [5, 5]\nadc_bits = 12\n"
	const calibration = "\n[calibration]\nkpa_per_count = 1\n"
	const grid, mount = strip + "rows = 5\ncols = 8\n", "[mount]\n"
	const shoe = "shoe = \"A\"\nplatform_mm = [36, 22]\n"
	for _, one := range []struct {
		says, kind, format string
		most               int
	}{
		{"4096 cells", "strip", strip + "rows = 1\ncols = %d" + calibration, 4096},
		{"rotation_deg 360", "strip", grid + mount + "rotation_deg = %d" + calibration, 360},
		{"seat_sd_mm 50", "strip", grid + mount + "seat_sd_mm = %d" + calibration, 50},
		{"seat_mountings 10000", "strip", grid + mount + "seat_mountings = %d" + calibration, 10000},
		{"curve_age_s 86400", "strip", grid + calibration + "curve_age_s = %d", 86400},
		{"valid_days 999999", "strip", grid + calibration + "valid_days = %d", 999999},
		{"a pressure of 1000000 kPa", "strip", grid + calibration + "range_kpa = [0, %d]", 1000000},
		{"crown_mm, vamp_mm and wings_mm 500", "shoe", shoe + "crown_mm = %d", 500},
		{"outline_exponent 200", "shoe", shoe + "outline_exponent = %d", 200},
		{"hours_worn 1000", "shoe", shoe + "hours_worn = %d", 1000},
	} {
		assert.Contains(t, text, one.says)
		assert.NoError(t, read(one.kind, fmt.Sprintf(one.format, one.most)), one.says)
		assert.Error(t, read(one.kind, fmt.Sprintf(one.format, one.most+1)), one.says)
	}
	assert.Contains(t, text, fmt.Sprintf("%d points of an outline", device.MaxOutline))
	assert.Contains(t, text, fmt.Sprintf("%d of a note", device.MaxText))
}

// The page about ports names the speeds that are tried, in their order.
func TestSpeeds(t *testing.T) {
	page, err := os.ReadFile("ports.md")
	require.NoError(t, err)
	speeds := strings.Trim(strings.ReplaceAll(fmt.Sprint(link.Bauds), " ", ", "), "[]")
	last := strings.LastIndex(speeds, ", ")
	assert.Contains(t, strings.Join(strings.Fields(string(page)), " "), "it tries other speeds: "+speeds[:last]+" and "+speeds[last+2:])
}

// The numbers of checks on the page about calibration are the program's.
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

// The numbers of the page about validation are computed: the block's geometry and pressures,
// the intervals of the limits of agreement, and the chance of few holds inside.
func TestNumbersOfValidation(t *testing.T) {
	page, err := os.ReadFile("validate.md")
	require.NoError(t, err)
	block := regexp.MustCompile("(?s)```toml\n(.*?)```").FindSubmatch(page)
	shoe, err := device.ParseShoe("validate.md", block[1])
	require.NoError(t, err)
	text := strings.ReplaceAll(strings.Join(strings.Fields(string(page)), " "), "−", "-")

	assert.Contains(t, text, fmt.Sprintf("at most %d million rows (%d minutes at 1000 rows a second)", reference.MaxRows/1_000_000, reference.MaxRows/1000/60))

	outline := shoe.Outline()
	m, kern := outline.Moments(), outline.Kern()
	back, _ := outline.Bounds()
	lo, hi := kern.Bounds()
	assert.Contains(t, text, fmt.Sprintf("an area of %.0f mm²", m.Area))
	assert.Contains(t, text, fmt.Sprintf("a centroid %.2f mm from the back edge", -back[1]))
	assert.Contains(t, text, fmt.Sprintf("from %.2f to %.2f mm of over and ±%.2f mm of medial", lo[1], hi[1], hi[0]))
	for _, hole := range []platform.Point{{0, -2}, {0, 0}, {0, 2}, {-4, 0}, {4, 0}} {
		assert.True(t, kern.Contains(hole))
	}
	const load = 10 * 9.80665 // N
	mean := 1000 * load / m.Area
	assert.Contains(t, text, fmt.Sprintf("mean pressure %.0f kPa", mean))
	at := func(over, edge float64) float64 { return mean * (1 + edge*over*m.Area/m.OO) } // a plane that balances the load
	low, high := outline.Bounds()
	const wide, deep, reaches = 40, 25, 3 // the strip of the page about files, and how far it reaches beyond the block, mm
	assert.GreaterOrEqual(t, min(wide/2-high[0], wide/2+low[0], deep/2.0-high[1], deep/2.0+low[1]), float64(reaches))
	front := high[1]
	assert.Contains(t, text, fmt.Sprintf("on over 2 mm %.0f kPa at the back edge and %.0f kPa at the front edge, on over -2 mm %.0f and %.0f kPa", at(2, back[1]), at(2, front), at(-2, back[1]), at(-2, front)))
	assert.Contains(t, text, fmt.Sprintf("%.1f and %.1f N; %.0f and %.0f kPa under the pad", load/2, load, 1000*load/2/225, 1000*load/225))

	for _, n := range []int{6, 12, 20, 30, 50, 100} {
		a := make([]float64, n)
		for i := range a { // differences with mean 0 and standard deviation 1
			a[i] = float64(i%2*2-1) * math.Sqrt(float64(n-1)/float64(n))
		}
		l := stats.LimitsOfAgreement(a, make([]float64, n))
		assert.Contains(t, text, fmt.Sprintf("| %d | %.2f s | %.2f s, %.2f s |", n, 1.96*math.Sqrt(3/float64(n)), l.Limits.Hi-l.Upper95.Lo, l.Upper95.Hi-l.Limits.Hi))
	}
	assert.Contains(t, text, fmt.Sprintf("Of 20 holds 16 or fewer inside happen by chance in %.1f %% of cases", 100*distuv.Binomial{N: 20, P: 0.95}.CDF(16)))
}
