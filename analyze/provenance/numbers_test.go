package provenance_test

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze"
	"aplomb/analyze/compare"
	"aplomb/analyze/measure"
	"aplomb/analyze/provenance"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/device/recording"
	"aplomb/device/sim"
)

// numbersFile has the numbers of some recordings under the algorithm that it
// names.
const numbersFile = "testdata/numbers.txt"

// Results do not change under one algorithm. Two shoes are simulated, one with a bent
// curve, uneven cells, creep and a dead cell, and compared; the numbers must equal those
// written under this algorithm.
func TestNumbersUnderOneAlgorithm(t *testing.T) {
	head := map[string]string{"algorithm": provenance.AlgorithmOf(provenance.CodeVersion, list(t, nil))}
	var lines []string
	add := func(value float64, of ...any) {
		lines = append(lines, strings.ReplaceAll(strings.TrimSpace(fmt.Sprintln(of...)), " ", "_")+" "+strconv.FormatFloat(value, 'g', 12, 64))
	}
	var results []*measure.Result
	for _, shoe := range []string{"A", "B"} {
		r := recorded(t, shoe)
		results = append(results, r)
		head[shoe] = r.Provenance.Inputs[0].SHA256
		for i := range r.Releves {
			one := &r.Releves[i]
			add(one.StartS, shoe, one.N, one.Foot, one.Status)
			for _, m := range measure.All() {
				if v, ok := one.Value(m); ok {
					add(v, shoe, one.N, one.Foot, m)
				}
			}
			if one.Hold != nil {
				add(one.UOverMM, shoe, one.N, one.Foot, "u_over")
				add(one.UContactShare, shoe, one.N, one.Foot, "u_contact")
				add(one.PInside, shoe, one.N, one.Foot, one.Verdict)
			}
		}
	}
	c, err := compare.Results(results, compare.Options{})
	require.NoError(t, err)
	for _, d := range c.Differences {
		add(d.Difference, d.Foot, d.Measure, d.Wording)
		if d.CI95 != nil {
			add(d.CI95[1], d.Foot, d.Measure, "upto")
		}
	}

	before, numbers := readNumbers(t)
	same := before["algorithm"] == head["algorithm"] && before["A"] == head["A"] && before["B"] == head["B"]
	if same {
		assertNumbers(t, numbers, lines)
		return
	}
	if *update {
		text := fmt.Sprintf("algorithm %s\nA %s\nB %s\n%s\n", head["algorithm"], head["A"], head["B"], strings.Join(lines, "\n"))
		require.NoError(t, os.WriteFile(numbersFile, []byte(text), 0o666))
		return
	}
	assert.Equal(t, before, head, "the algorithm or the simulation has changed: go test ./analyze/provenance -update writes %s anew", numbersFile)
}

// assertNumbers compares numbers to a relative 1e-6, because processors round
// differently.
func assertNumbers(t *testing.T, want, got []string) {
	const do = "numbers have changed and the algorithm has not: raise codeVersion in provenance.go"
	require.Equal(t, len(want), len(got), do)
	for i := range want {
		wantName, wantText, _ := strings.Cut(want[i], " ")
		gotName, gotText, _ := strings.Cut(got[i], " ")
		require.Equal(t, wantName, gotName, do)
		w, g := number(wantText), number(gotText)
		require.LessOrEqual(t, math.Abs(g-w), 1e-6*max(1e-3, math.Abs(w)), "%s: %s, %s before: %s", wantName, gotText, wantText, do)
	}
}

// readNumbers returns the head and the lines of numbersFile.
func readNumbers(t *testing.T) (head map[string]string, lines []string) {
	head = map[string]string{}
	file, err := os.Open(numbersFile)
	if errors.Is(err, os.ErrNotExist) {
		return head, nil
	}
	require.NoError(t, err)
	defer file.Close()
	for s := bufio.NewScanner(file); s.Scan(); {
		if len(head) < 3 {
			name, value, _ := strings.Cut(s.Text(), " ")
			head[name] = value
		} else {
			lines = append(lines, s.Text())
		}
	}
	return head, lines
}

// recorded simulates a recording in a shoe and analyzes it.
func recorded(t *testing.T, shoe string) *measure.Result {
	m := device.Metadata{Dancer: "D7", Started: time.Date(2026, 3, 1, 10, 0, 0, 0, time.UTC), Software: "test"}
	setup := sim.Setup{
		Seed: 5, Start: m.Started, RateHz: 60, Mounting: shoe,
		Dancer: sim.Dancer{MassKG: 52, LeftShare: 0.45, Rises: 3, Aborted: []int{2}, SwaySD: 0.5, LoadSD: 0.02}, Faults: sim.DefaultFaults(),
	}
	setup.Faults.Loss = 0.001
	for _, foot := range device.Feet {
		side := &device.Side{
			Strip: &device.Strip{
				Name: "strip " + foot.String(), Foot: foot, Rows: 5, Cols: 8, PitchMM: [2]float64{5, 5}, CellMM: [2]float64{5, 5},
				ADCBits: 12, SaturatesAt: 4095, FirstCell: "back-lateral", Scan: "rows", Mount: device.Mount{SeatSDMM: device.DefaultSeatSDMM},
				Calibration: device.Calibration{KPaPerCount: 0.75, GainSD: device.DefaultGainSD},
			},
			Shoe:     &device.Shoe{Code: shoe, PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5},
			Mounting: shoe, Clock: "strip", Format: "binary",
		}
		stands := platform.Point{-1, -6}
		if shoe == "B" {
			stands = platform.Point{0.5, -1}
			side.Strip.Calibration = device.Calibration{
				Curve: "power", KPaAtOneCount: 3000 / math.Pow(4095, 1.2), Exponent: 1.2, GainSD: 0.02,
				Hysteresis: 0.03, CreepPerDecade: 0.02, UCreep: 0.01, CurveAgeS: 10,
			}
		}
		setup.Feet[foot] = &sim.Foot{Strip: side.Strip, Shoe: side.Shoe, Stand: sim.Stand{CoPMM: stands, ScatterSD: 0.5}}
		if shoe == "B" && foot == device.Left {
			setup.Feet[foot].Broken = []sim.Broken{{Row: 2, Col: 3, How: sim.Dead}}
		}
		m.Sides[foot] = side
	}
	session, err := sim.NewSession(setup)
	require.NoError(t, err)
	path := filepath.Join(t.TempDir(), shoe+".mcap")
	w, err := recording.CreateDirect(path, m)
	require.NoError(t, err)
	var f device.Frame
	for err = session.Next(&f); err == nil; err = session.Next(&f) {
		require.NoError(t, w.Write(&f))
	}
	require.ErrorIs(t, err, io.EOF)
	require.NoError(t, w.Close())
	r, err := analyze.File(context.Background(), path, analyze.Options{})
	require.NoError(t, err)
	return r
}
