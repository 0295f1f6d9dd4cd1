//go:build unix

package main

import (
	"context"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/capture"
	"aplomb/cmd/internal/fitting"
	"aplomb/cmd/internal/rehearsal"
	"aplomb/device"
	"aplomb/device/link"
)

// A dancer who is erased just before the recording of a step of a fitting stays erased.
func TestFittingOfErasedDancer(t *testing.T) {
	now := time.Date(2026, 3, 14, 10, 0, 0, 0, time.UTC)
	s := &simulation{setup: scene(now, []string{"--shoe", "A", "--dancer", "D5"})}
	s.clock.Set(now)
	r := &fittingRecorder{fittingFlags: &fittingFlags{plain: true}, cmd: &cobra.Command{}, o: s.environment()}
	r.link.Ports = [2]string{"left", "right"}
	r.folder.Named = filepath.Join(t.TempDir(), "book")
	r.cmd.SetContext(t.Context())
	r.cmd.SetOut(io.Discard)
	r.cmd.SetErr(io.Discard)
	var v logbook.Visit
	require.NoError(t, r.folder.BeginWith(io.Discard, func(l *logbook.Logbook) (err error) {
		require.NoError(t, rehearsal.Furnish(l))
		v, err = l.AddVisit(logbook.Visit{Dancer: rehearsal.Dancer, Day: logbook.DayOf(now)})
		return err
	}))
	r.o.listen = func(ctx context.Context, opt link.Options, m *device.Metadata) (capture.Source, error) {
		require.NoError(t, r.folder.With(func(l *logbook.Logbook) error {
			_, err := l.DeleteDancer(ctx, rehearsal.Dancer)
			return err
		}))
		return s.listen(ctx, opt, m)
	}
	_, err := r.record(t.Context(), fitting.Recording{Setup: fitting.Setup{Dancer: v.Dancer, Shoe: rehearsal.Shoes[0], Visit: v}})
	assert.ErrorIs(t, err, logbook.ErrNotFound)
	assert.ErrorContains(t, err, "nothing is recorded")
	left, err := os.ReadDir(filepath.Join(r.folder.Named, "recordings"))
	require.NoError(t, err)
	assert.Empty(t, left)
}
