package track

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/measure"
	"aplomb/analyze/stats"
	"aplomb/device"
)

// NIST Statistical Reference Datasets, "Norris": a slope of 1.00211681802045 with a standard
// deviation of 0.429796848199937E-03, from 36 points. Here x is hours and every y a visit.
func TestWearOfNorris(t *testing.T) {
	f, err := os.Open("../../testdata/norris.csv")
	require.NoError(t, err)
	defer f.Close()
	table, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	column := map[string]int{}
	for i, name := range table[0] {
		column[name] = i
	}
	var points []Point
	for _, line := range table[1:] {
		x, err := strconv.ParseFloat(line[column["x"]], 64)
		require.NoError(t, err)
		y, err := strconv.ParseFloat(line[column["y"]], 64)
		require.NoError(t, err)
		points = append(points, Point{Hours: x, Mean: y})
	}
	w := wearOf(points)
	require.NotNil(t, w)
	assert.InEpsilon(t, 1.00211681802045, w.PerHour, 1e-10)
	assert.InEpsilon(t, 0.429796848199937e-03, w.U, 1e-9)
	assert.Equal(t, 34.0, float64(w.DOF))
	assert.Equal(t, 36, w.Visits)

	// Visits that are each known worse than they scatter about the line: by hand, all with
	// the same u, the slope has u ÷ √Σ(x − mean)².
	squares, mean := 0.0, 0.0
	for _, p := range points {
		mean += p.Hours / 36
	}
	for i := range points {
		squares += (points[i].Hours - mean) * (points[i].Hours - mean)
		points[i].OfMean = &Uncertainty{U: 5, DOF: measure.Unlimited}
	}
	own := wearOf(points)
	assert.InEpsilon(t, 5/math.Sqrt(squares), own.U, 1e-9)
	assert.Greater(t, own.U, w.U)
	assert.InEpsilon(t, w.PerHour+stats.TQuantile(0.975, math.Inf(1))*own.U, own.CI95[1], 1e-9)
}

// A line needs three visits and different hours.
func TestNoWear(t *testing.T) {
	assert.Nil(t, wearOf([]Point{{Hours: 0}, {Hours: 5, Mean: 1}}))
	assert.Nil(t, wearOf([]Point{{Hours: 5}, {Hours: 5, Mean: 1}, {Hours: 5, Mean: 2}}))
	assert.Contains(t, (*Wear)(nil).Text(measure.Over), "aplomb shoe edit CODE --hours HOURS")
}

// A shoe that nobody has worn since has no wear and no flag, whatever the number of relevés.
func TestSameHours(t *testing.T) {
	values := []float64{-3, -2.5, -3.5, -3.2, -3, -2.5, -3.5, -3.2, -3.1, -2.9}
	for _, hours := range []float64{0.1, 1.5, 3.3} {
		var rows []Row
		for visit, n := range []int{6, 7, 10} {
			for _, r := range one("D7", visit, 0, false, device.Left, values[:n]...) {
				r.Hours = hours
				rows = append(rows, r)
			}
		}
		f, err := Follow(measure.Over, "D7", rows)
		require.NoError(t, err)
		assert.Nil(t, f.Series[0].Wear)
		for _, p := range f.Series[0].Points {
			assert.Equal(t, hours, p.Hours)
			assert.Empty(t, p.Flags)
		}
	}
}

// A worn or altered shoe stays the same shoe; another outline or shank makes another one,
// under the same code.
func TestWornShoe(t *testing.T) {
	shoe := device.Shoe{Code: "A", PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5, Shank: "hard", VampMM: 60}
	worn, other, wider := shoe, shoe, shoe
	worn.HoursWorn, worn.Padding, worn.VampMM = 6, "gel", 61
	other.Shank = "soft"
	wider.PlatformMM[0] = 38
	assert.Equal(t, MakeOf(&shoe), MakeOf(&worn))
	var rows []Row
	for week, s := range []device.Shoe{shoe, worn, other, wider, worn} {
		for _, r := range one("D7", week, 0, false, device.Left, -3, -3.2) {
			r.Version, r.Make, r.Hours = device.TOML(&s), MakeOf(&s), s.HoursWorn
			rows = append(rows, r)
		}
	}
	f, err := Follow(measure.Over, "D7", rows)
	require.NoError(t, err)
	require.Len(t, f.Series, 3)
	for i, label := range []string{"A#1", "A#2", "A#3"} {
		assert.Equal(t, label, f.Series[i].Shoe)
		assert.Equal(t, "A", f.Series[i].Code)
	}
	require.Len(t, f.Series[0].Points, 3)
	assert.Equal(t, []Flag{"shoe worn for 6 h, 0 h at the reference: part of the change may be the shoe's"}, f.Series[0].Points[1].Flags)
	assert.Equal(t, 6.0, f.Series[0].Points[2].Hours)
	require.NotNil(t, f.Series[0].Wear)
	assert.Equal(t, 3, f.Series[0].Wear.Visits)
	assert.Nil(t, f.Series[1].Wear)
}
