//go:build unix && !race

package main

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/analyze/study"
	"aplomb/device"
	"aplomb/device/platform"
)

// rawStudy is a study whose raw files a lab has. Nobody danced it.
type rawStudy struct {
	dancers, visits, releves int
	shoes                    []string
	feet                     [2]bool
	seed                     uint64
}

// guideStudy is the one in the guide, and longStudy the same as large as a lab makes it.
var (
	guideStudy = rawStudy{dancers: 6, visits: 2, releves: 2, shoes: []string{"A", "B"}, feet: [2]bool{true, false}, seed: 11}
	longStudy  = rawStudy{dancers: 20, visits: 2, releves: 5, shoes: []string{"A", "B", "C"}, feet: [2]bool{true, true}, seed: 11}
)

// platforms are those of the shoes, width, depth and exponent.
var platforms = map[string][3]float64{"A": {35, 21, 2.5}, "B": {39, 24, 4}, "C": {37, 22, 2.5}}

// shift is by how much further to the front than in shoe A the load sits, mm.
var shift = map[string]float64{"A": 0, "B": 2, "C": 0.5}

// write writes the raw files and the manifest of a study into a folder, in the order of its
// rows. Over differs between dancers by 0.5 mm, between visits by 0.2 mm, between mountings by
// 0.2 mm and between relevés by 0.3 mm (standard deviations).
func (r rawStudy) write(t *testing.T, dir string) {
	var dancers []string
	for i := range r.dancers {
		dancers = append(dancers, fmt.Sprintf("D%d", i+1))
	}
	s := study.Study{Seed: r.seed, Measure: measure.Over, Feet: r.feet, Visits: r.visits, Mountings: 1, Releves: r.releves, Stop: r.dancers}
	s, err := study.New(s, dancers, r.shoes, nil, func(string) bool { return false })
	require.NoError(t, err)
	require.NoError(t, os.Mkdir(filepath.Join(dir, "raw"), 0o777))
	g := rand.New(rand.NewPCG(r.seed, 20))
	var table strings.Builder
	table.WriteString("dancer,visit,day,shoe,left,right,support,rise\n")
	for i, dancer := range dancers {
		own := -2 + 0.5*g.NormFloat64()
		for v := 1; v <= r.visits; v++ {
			visit := 0.2 * g.NormFloat64()
			day := time.Date(2026, 3, 2+7*(v-1)+i%5, 0, 0, 0, 0, time.UTC).Format(time.DateOnly)
			for _, step := range s.Plan(i+1, v).Steps {
				mounting := 0.2 * g.NormFloat64()
				var files [2]string
				for _, f := range device.Feet {
					if !r.feet[f] {
						continue
					}
					over := make([]float64, r.releves+1)
					for n := range over {
						over[n] = own + shift[step.Shoe] + visit + mounting + 0.3*g.NormFloat64()
					}
					p := platforms[step.Shoe]
					files[f] = fmt.Sprintf("raw/%s_%d%s_%s.csv", dancer, v, step.Shoe, f)
					data := danced(platform.Superellipse(p[0], p[1], p[2]), r.releves, func(rise int) float64 { return over[rise] })
					require.NoError(t, os.WriteFile(filepath.Join(dir, files[f]), data, 0o666))
				}
				fmt.Fprintf(&table, "%s,%d,%s,%s,%s,%s,barre,roll-up\n", dancer, v, day, step.Shoe, files[device.Left], files[device.Right])
			}
		}
	}
	require.NoError(t, os.WriteFile(filepath.Join(dir, "manifest.csv"), []byte(table.String()), 0o666))
}

// The test runs the guide's study with 20 dancers, 3 shoes and 2 visits: 120 recordings
// of both feet, 5 relevés each, planned, loaded, checked, measured for reliability,
// compared and exported with the commands that the guide shows for 6 dancers and 2 shoes.
func TestLongStudy(t *testing.T) {
	t.Parallel()
	if os.Getenv("APLOMB_LONG") == "" {
		t.Skip("APLOMB_LONG=1 runs a study of 120 recordings")
	}
	page, err := os.ReadFile("guide/study.md")
	require.NoError(t, err)
	block := transcript.FindSubmatch(page)
	require.NotNil(t, block)
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, os.DirFS("testdata/profiles")))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "C.toml"), []byte("shoe = \"C\"\nplatform_mm = [37.0, 22.0]\noutline_exponent = 2.5\nshank = \"medium\"\n"), 0o666))
	longStudy.write(t, dir)
	now := time.Date(2026, 3, 1, 10, 0, 0, 0, time.UTC) // it is declared before the days of the manifest
	larger := strings.NewReplacer("1 6)", "1 20)", "--shoes A,B", "--shoes A,B,C", "--feet left", "--feet both", "--releves 2", "--releves 5")
	for _, line := range regexp.MustCompile(`(?m)^\$ ((?:.*\\\n)*.*)\n`).FindAllStringSubmatch(string(block[1]), -1) {
		command := larger.Replace(line[1])
		if strings.Contains(command, "shoe add B") {
			command += "; aplomb strip add right.toml; aplomb shoe add C --file C.toml"
		}
		if strings.Contains(command, "study load") {
			now = now.AddDate(0, 0, 19)
		}
		began := time.Now()
		said := enter(t, dir, now, command)
		t.Logf("%.1f s: %s\n%s", time.Since(began).Seconds(), command, said)
		switch {
		case strings.Contains(command, "study load"):
			assert.Contains(t, said, "120 recordings loaded, 0 were there before")
			assert.NotContains(t, said, "before the day of the declaration")
		case strings.Contains(command, "study check"):
			assert.Contains(t, said, "120 recordings checked, 0 not right; 0 of 120 mountings missing")
		case strings.Contains(command, "study compare"):
			assert.Contains(t, said, "20 dancers are complete, compared after 20.")
			for pair, truth := range map[string]float64{"B less A": 2, "C less A": 0.5, "C less B": -1.5} {
				found := regexp.MustCompile(pair + ` +20 +([+−])(\d\.\d\d) mm .* clear\n`).FindStringSubmatch(said)
				require.NotNil(t, found, pair)
				estimate, err := strconv.ParseFloat(strings.Replace(found[1], "−", "-", 1)+found[2], 64)
				require.NoError(t, err)
				assert.InDelta(t, truth, estimate, 0.25, pair)
			}
		}
	}
	assert.FileExists(t, filepath.Join(dir, "package", "datapackage.json"))
}
