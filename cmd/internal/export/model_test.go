package export_test

import (
	"bytes"
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/cmd/internal/export"
)

// The package's scripts in R and in Python estimate the same fixed effects from
// unbalanced data with differences between dancers, visits and mountings. They differ by
// the tolerance of the optimisers of the restricted likelihood: the weights of the groups
// follow from the variances. Standard errors differ more: lme4 treats the variances as
// known, and statsmodels inverts the Hessian of all parameters. One dancer's recordings
// are few, and an optimiser that steps far finds a singular matrix there.
func TestScriptsAgree(t *testing.T) {
	if os.Getenv("APLOMB_LONG") == "" {
		t.Skip("R and Python take seconds to begin: set APLOMB_LONG")
	}
	const python = "/usr/bin/python3" // the one with the packages of the distribution
	r := needs(t, "Rscript")
	for _, at := range []string{"/usr/lib/R/site-library/lme4", "/usr/lib/python3/dist-packages/statsmodels"} {
		if _, err := os.Stat(at); err != nil {
			t.Skip("no " + filepath.Base(at) + " on this machine")
		}
	}
	dir := t.TempDir()
	require.NoError(t, os.Mkdir(filepath.Join(dir, "tables"), 0o777))
	rows := func(command, script string) [][]string {
		all, err := csv.NewReader(bytes.NewReader(run(t, command, "scripts/"+script, dir))).ReadAll()
		require.NoError(t, err)
		return all
	}
	number := func(text string) float64 {
		v, err := strconv.ParseFloat(text, 64)
		require.NoError(t, err)
		return v
	}
	// Two rises in each mounting of a fitting like that of aplomb demo. Minimizing by L-BFGS-B
	// with factr 10 and pgtol 1e-10 ends in a singular matrix here.
	var few []made
	for _, in := range []struct {
		recording, shoe, foot string
		over                  [2]float64
	}{
		{"a1", "A", "left", [2]float64{-6.3, -6.8}}, {"a1", "A", "right", [2]float64{-6.1, -5.4}},
		{"b1", "B", "left", [2]float64{-1.4, -1.1}}, {"b1", "B", "right", [2]float64{-0.3, 0.2}},
		{"b2", "B", "left", [2]float64{-1.3, -0.1}}, {"b2", "B", "right", [2]float64{-0.3, -0.3}},
		{"a2", "A", "left", [2]float64{-6.8, -6.2}}, {"a2", "A", "right", [2]float64{-5.7, -6.9}},
	} {
		day := began.Format(time.DateOnly)
		for n, over := range in.over {
			few = append(few, made{dancer: "D7", visit: day, day: day, shoe: in.shoe, foot: in.foot, recording: in.recording,
				mounting: in.recording + "-" + in.foot, n: n + 1, measured: true, verdict: measure.TooCloseToCall, over: over})
		}
	}
	for _, releves := range [][]made{madeUp(100), few} {
		var b bytes.Buffer
		require.NoError(t, export.CSV(&b, table(t, releves)))
		require.NoError(t, os.WriteFile(filepath.Join(dir, "tables", "releves.csv"), b.Bytes(), 0o666))
		inR, inPython := rows(r, "model.R"), rows(python, "model.py")
		require.Len(t, inR, 5)
		require.Len(t, inPython, 5)
		for i, term := range []string{"(Intercept)", "shoeB", "footright", "shoeB:footright"} {
			a, b := inR[i+1], inPython[i+1]
			assert.Equal(t, []string{term, term}, []string{a[0], b[0]})
			assert.InDelta(t, number(a[1]), number(b[1]), 1e-6, "mm")
			assert.InEpsilon(t, number(a[2]), number(b[2]), 5e-3)
		}
	}
}
