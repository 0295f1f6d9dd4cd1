package main

import (
	"bytes"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/analyze/plan"
	"aplomb/analyze/provenance"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/software"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
	"aplomb/device/recording"
)

// visitBook returns a logbook with dancer D7 and shoes A, B and C in it.
func visitBook(t *testing.T) *logbook.Logbook {
	l, err := logbook.Open(filepath.Join(t.TempDir(), "book"))
	require.NoError(t, err)
	t.Cleanup(func() { l.Close() })
	require.NoError(t, l.AddDancer(logbook.Dancer{Code: "D7"}))
	for _, code := range []string{"A", "B", "C"} {
		require.NoError(t, l.AddShoe(logbook.Shoe{Shoe: visitShoe(code)}))
	}
	return l
}

func visitShoe(code string) device.Shoe {
	return device.Shoe{Code: code, PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5}
}

// Days are local days of the program, and a day that has not begun is in the future.
func TestVisitIsNotInTheFuture(t *testing.T) {
	l := visitBook(t)
	noon := time.Date(2026, 3, 14, 12, 0, 0, 0, time.UTC)
	east := func() time.Time { return noon.Add(11 * time.Hour).In(time.FixedZone("", 2*3600)) } // the 15th there
	west := func() time.Time { return noon.In(time.FixedZone("", -8*3600)) }
	say := func(now func() time.Time, args ...string) (string, error) {
		cmd := newVisit(now)
		var out bytes.Buffer
		cmd.SetOut(&out)
		cmd.SetErr(&out)
		cmd.SilenceErrors, cmd.SilenceUsage = true, true
		cmd.SetArgs(append(args, "--dancer", "D7", "--logbook", l.Dir()))
		err := cmd.Execute()
		return out.String(), err
	}
	var m usage.Error
	said, err := say(west, "add")
	require.NoError(t, err)
	assert.Equal(t, "visit 2026-03-14 of dancer D7 added\n", said)
	_, err = say(west, "add", "--date", "2026-03-15")
	require.ErrorAs(t, err, &m)
	assert.EqualError(t, err, "--date 2026-03-15 lies in the future: today is 2026-03-14")
	said, err = say(east, "add", "--date", "2026-03-15")
	require.NoError(t, err)
	assert.Equal(t, "visit 2026-03-15 of dancer D7 added\n", said)
	said, err = say(east, "add")
	require.NoError(t, err)
	assert.Equal(t, "visit 2026-03-15-2 of dancer D7 added\nIt is number 2 of that day: if it is one too many, aplomb visit remove 2026-03-15-2 --dancer D7 takes it out again.\n", said)

	for _, c := range []struct {
		name, want string
		now        func() time.Time
	}{
		{"last", "2026-03-15-2", west}, {"today", "2026-03-14", west}, {"today", "2026-03-15-2", east}, {"2026-03-15", "2026-03-15", west},
	} {
		v, err := lookup.Visit(l, "d7", c.name, c.now())
		require.NoError(t, err)
		assert.Equal(t, c.want, v.Name(), c.name)
	}
	_, err = lookup.Visit(l, "D7", "today", noon.AddDate(0, 0, 7))
	assert.EqualError(t, err, "dancer D7 has no visit today, 2026-03-21: aplomb visit add --dancer D7 adds one")
}

func TestNextIsTold(t *testing.T) {
	l := visitBook(t)
	v, err := l.AddVisit(logbook.Visit{Dancer: "D7", Day: "2026-03-14"})
	require.NoError(t, err)
	tell := func() string {
		var out bytes.Buffer
		require.NoError(t, output.Deviation(&out, l, v))
		require.NoError(t, output.Next(&out, l, v))
		return out.String()
	}
	assert.Empty(t, tell(), "without a plan")
	require.NoError(t, l.PutPlan(v.ID, plan.FromSteps(0, []plan.Step{
		{Shoe: "A", Mounting: 1, Releves: 2}, {Shoe: "B", Mounting: 1, Releves: 2}, {Shoe: "B", Mounting: 2, Releves: 2}, {Shoe: "A", Mounting: 2, Releves: 2},
	})))
	assert.Equal(t, "next: shoe A, mount the strips (1 of 4)\n", tell())

	began := time.Date(2026, 3, 14, 12, 0, 0, 0, time.UTC)
	record := func(code string, releves int) {
		began = began.Add(time.Minute)
		worn := visitShoe(code)
		meta := device.Metadata{Dancer: "D7", Visit: v.Name(), Started: began}
		meta.Sides[device.Left] = &device.Side{
			Strip: &device.Strip{
				Name: "L-01", Foot: device.Left, Rows: 2, Cols: 3, PitchMM: [2]float64{12, 11}, CellMM: [2]float64{12, 11}, ADCBits: 12, SaturatesAt: 4095,
				FirstCell: "back-lateral", Scan: "rows", Mount: device.Mount{SeatSDMM: 1}, Calibration: device.Calibration{KPaPerCount: 0.75, GainSD: 0.03},
			},
			Shoe: &worn, Mounting: began.String(), Clock: "strip", Format: "binary",
		}
		w, err := recording.CreateDirect(l.NewRecordingPath(began), meta)
		require.NoError(t, err)
		require.NoError(t, w.Close())
		names, err := filepath.Glob(filepath.Join(l.Dir(), "recordings", began.Format("20060102T150405Z")+"-*"))
		require.NoError(t, err)
		r, err := l.AddRecording(t.Context(), names[0], v.ID)
		require.NoError(t, err)
		result := &measure.Result{Provenance: provenance.New(software.Provenance(), measure.Settings{})}
		for i := range releves {
			result.Releves = append(result.Releves, measure.Releve{N: i + 1, Foot: device.Left, FeetUp: 1, Status: measure.Measured, Hold: &measure.Hold{Verdict: measure.OverTheBox}})
		}
		require.NoError(t, l.PutMeasures(r.ID, result))
	}
	record("A", 2)
	assert.Equal(t, "next: shoe B, mount the strips again (2 of 4)\n", tell())
	record("B", 1)
	assert.Equal(t, "recording 2: left 1 of 2: the step is not done yet\nnext: shoe B has left 1 of 2: go on in that mounting, or mount the strips again (2 of 4)\n", tell())
	record("A", 2)
	assert.Equal(t, "recording 3: shoe A where shoe B was next; it counts as 4 of 4, and the plan goes on\nnext: shoe B has left 1 of 2: go on in that mounting, or mount the strips again (2 of 4)\n", tell(),
		"of recordings before the last one no more is said")

	hurts := 5
	v.PainAfter = &hurts
	said := tell()
	assert.True(t, strings.HasSuffix(said, "the plan waits, 2 of 4 done: there is pain\n"), said)
	assert.NotContains(t, said, "next:")
	v.PainAfter = nil
	record("C", 2)
	record("B", 2)
	record("B", 2)
	assert.Equal(t, "the plan is done, 4 of 4\n", tell())
}
