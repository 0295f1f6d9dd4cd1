package stats

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"
)

// reference is what testdata/reference.py printed with the scipy it names.
type reference struct {
	TQuantiles []struct{ P, DOF, T float64 } `json:"t_quantiles"`
	FQuantiles []struct{ M, F float64 }      `json:"f_quantiles"`
	TTests     []struct {
		A, B    []float64
		WelchT  float64 `json:"welch_t"`
		WelchP  float64 `json:"welch_p"`
		PairedT float64 `json:"paired_t"`
		PairedP float64 `json:"paired_p"`
	} `json:"t_tests"`
	Masses []struct {
		Polygon  [][2]float64
		Mean, SD [2]float64
		Mass     float64
	}
}

func scipy(t *testing.T) (r reference) {
	data, err := os.ReadFile("testdata/reference.json")
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(data, &r))
	return r
}

// column reads one column of a file of published data; testdata/README.md has the sources.
func column(t *testing.T, file, name string) (x []float64) {
	f, err := os.Open("../../testdata/" + file)
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	for k, head := range rows[0] {
		if head != name {
			continue
		}
		for _, row := range rows[1:] {
			v, err := strconv.ParseFloat(row[k], 64)
			require.NoError(t, err)
			x = append(x, v)
		}
	}
	require.NotEmpty(t, x)
	return x
}

func TestTQuantileAgainstScipy(t *testing.T) {
	cases := scipy(t).TQuantiles
	require.NotEmpty(t, cases)
	for _, c := range cases {
		assert.InDelta(t, c.T, TQuantile(c.P, c.DOF), 1e-8*(1+math.Abs(c.T)), "p %v, dof %v", c.P, c.DOF)
	}
}

// tTest is a two-sided t-test of a difference against 0, built from Combined,
// EffectiveDOF and TwoSided.
type tTest struct{ difference, u, dof, t, p float64 }

func newTTest(difference, u, dof float64) tTest {
	t := difference / u
	return tTest{difference, u, dof, t, TwoSided(t, dof)}
}

// welch compares the means of two samples whose variances may differ (Welch,
// Biometrika 34 (1947) 28-35).
func welch(a, b []float64) tTest {
	na, nb := float64(len(a)), float64(len(b))
	ma, sa := stat.MeanStdDev(a, nil)
	mb, sb := stat.MeanStdDev(b, nil)
	parts := []Component{{sa / math.Sqrt(na), na - 1}, {sb / math.Sqrt(nb), nb - 1}}
	return newTTest(ma-mb, Combined(parts...), EffectiveDOF(parts...))
}

// paired tests the mean of the differences (Student, Biometrika 6 (1908) 1-25).
func paired(a, b []float64) tTest {
	d := make([]float64, len(a))
	floats.SubTo(d, a, b)
	mean, sd := stat.MeanStdDev(d, nil)
	n := float64(len(d))
	return newTTest(mean, sd/math.Sqrt(n), n-1)
}

func TestStudentsSleep(t *testing.T) {
	a, b := column(t, "sleep.csv", "drug1_h"), column(t, "sleep.csv", "drug2_h")

	p := paired(a, b)
	assert.InDelta(t, -1.58, p.difference, 1e-12)
	assert.InDelta(t, -4.0621, p.t, 5e-5)
	assert.Equal(t, 9.0, p.dof)
	assert.InDelta(t, 0.002833, p.p, 5e-7)

	w := welch(a, b)
	assert.InDelta(t, -1.8608, w.t, 5e-5)
	assert.InDelta(t, 0.07939, w.p, 5e-6)
	assert.InDelta(t, 17.776, w.dof, 5e-4) // R's documentation of t.test, example of the sleep data

	// The 95 % interval that R prints for the same example: -3.3654832 to 0.2054832.
	i := Interval95(w.difference, w.u, w.dof)
	assert.InDelta(t, -3.3654832, i.Lo, 5e-8)
	assert.InDelta(t, 0.2054832, i.Hi, 5e-8)
}

func TestTTestsAgainstScipy(t *testing.T) {
	cases := scipy(t).TTests
	require.NotEmpty(t, cases)
	for _, c := range cases {
		w := welch(c.A, c.B)
		assert.InEpsilon(t, c.WelchT, w.t, 1e-9)
		assert.InEpsilon(t, c.WelchP, w.p, 1e-9)
		if len(c.A) == len(c.B) {
			p := paired(c.A, c.B)
			assert.InEpsilon(t, c.PairedT, p.t, 1e-9)
			assert.InEpsilon(t, c.PairedP, p.p, 1e-9)
		}
	}
}

// JCGM 100:2008, example H.1 (end gauge). 9.7 nm with 25.6 degrees of freedom are
// 5.8, 3.9 and 6.7 nm with 24, 5 and 8; the last two components follow from the
// bounds of expansion and temperature. The guide's result is 32 nm with 16
// degrees of freedom once truncated.
func TestEndGaugeOfTheGuide(t *testing.T) {
	parts := []Component{{25, 18}, {9.7, 25.6}, {2.9, 50}, {16.6, 2}}
	assert.InDelta(t, 32, Combined(parts...), 0.5)
	assert.Equal(t, 16.0, math.Floor(EffectiveDOF(parts...)))
}

func TestFQuantileAgainstScipy(t *testing.T) {
	cases := scipy(t).FQuantiles
	require.NotEmpty(t, cases)
	for _, c := range cases {
		assert.InEpsilon(t, c.F, f95(c.M), 1e-11, "m %v", c.M)
	}
}

func TestMassInsideAgainstScipy(t *testing.T) {
	cases := scipy(t).Masses
	require.Greater(t, len(cases), 20)
	for _, c := range cases {
		assert.InDelta(t, c.Mass, massInside(c.Polygon, c.Mean, c.SD), 1e-11)
	}
}
