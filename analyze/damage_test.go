//go:build !race

package analyze_test

import (
	"bytes"
	"errors"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/foxglove/mcap/go/mcap"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/device/recording"
	"aplomb/device/sim"
)

// soundFile is a recording of three relevés on one foot after a pad press, with its
// results.
type soundFile struct {
	bytes   []byte
	startNS int64 // arrival of its first frame, ns since 1970
	result  *measure.Result
}

func newSoundFile(t testing.TB) soundFile {
	s := strip(device.Left)
	s.Calibration.KPaPerCount, s.ADCBits, s.SaturatesAt = 0.75, 12, 4095
	side := &device.Side{Strip: s, Shoe: &device.Shoe{Code: "A", PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5}, Mounting: "m", Clock: "strip"}
	setup := sim.Setup{
		Seed: 5, Start: meta().Started, RateHz: 50, Mounting: "m", Dancer: sim.Dancer{MassKG: 55, LeftShare: 1, Rises: 3, SwaySD: 0.3},
		Faults: sim.DefaultFaults(), Press: sim.DefaultPadPress(),
	}
	setup.Feet[device.Left] = &sim.Foot{Strip: s, Shoe: side.Shoe, Stand: sim.Stand{CoPMM: platform.Point{-0.5, -3}}}
	path, _ := recordedSession(t, "sound.mcap", setup, side)
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	r, err := analyze.File(t.Context(), path, analyze.Options{})
	require.NoError(t, err)
	require.Len(t, r.Releves, 3)
	return soundFile{b, startOf(t, path), r}
}

// startOf returns the arrival of the first readable frame, ns since 1970.
func startOf(t testing.TB, path string) int64 {
	s, err := recording.Inspect(t.Context(), path)
	require.NoError(t, err)
	return s.StartNS
}

// A flipped bit in a recording never gives a wrong number. Either the recording is
// refused in one line, or all numbers are those of the sound file, or the recording is
// marked as damaged and has no id, and every relevé without a mark agrees with the sound
// file within its uncertainty.
func FuzzFlippedBit(f *testing.F) {
	sound, path := newSoundFile(f), filepath.Join(f.TempDir(), "flipped.mcap")
	const seeds = 12
	for i := range uint32(seeds) {
		f.Add(i * uint32(8*len(sound.bytes)/seeds))
	}
	f.Fuzz(func(t *testing.T, bit uint32) {
		b := bytes.Clone(sound.bytes)
		bit %= uint32(8 * len(b))
		b[bit/8] ^= 1 << (bit % 8)
		require.NoError(t, os.WriteFile(path, b, 0o666))
		r, err := analyze.File(t.Context(), path, analyze.Options{})
		if err != nil {
			assert.NotContains(t, err.Error(), "\n")
			assert.True(t, errors.Is(err, recording.ErrDamaged) || errors.Is(err, recording.ErrCutShort) || errors.Is(err, recording.ErrForeign) || errors.Is(err, recording.ErrNewer), "%v", err)
			return
		}
		damaged, lost := markedAsDamaged(r)
		if !lost {
			require.Equal(t, sound.result.Releves, r.Releves)
			if id := r.Provenance.Inputs[0].ID; id != "" || !readAsCut(r) { // the footer may be hit
				assert.Equal(t, sound.result.Provenance.Inputs[0].ID, id)
			}
			return
		}
		require.True(t, damaged)
		assert.Empty(t, r.Provenance.Inputs[0].ID)
		sound.requireSame(t, r, float64(startOf(t, path)-sound.startNS)/1e9)
	})
}

// readAsCut reports whether a result has the warning that its recording was cut short.
func readAsCut(r *measure.Result) bool {
	return slices.ContainsFunc(r.Warnings, func(w measure.Warning) bool { return w.Code == measure.RecordingCut })
}

// markedAsDamaged reports whether a result has the warning that its recording is damaged,
// and whether that says that frames or events are lost.
func markedAsDamaged(r *measure.Result) (damaged, lost bool) {
	for _, w := range r.Warnings {
		damaged = damaged || w.Code == measure.RecordingDamaged
		lost = lost || w.Code == measure.RecordingDamaged && !strings.Contains(w.Values.Detail, "every frame and event is there")
	}
	return damaged, lost
}

// requireSame requires that every relevé of r without a warning of a gap agrees with the
// sound file. later is the delay of r's first frame relative to the sound file's, s.
func (sound soundFile) requireSame(t *testing.T, r *measure.Result, later float64) {
	for _, one := range r.Releves {
		if hasGap(one) {
			continue
		}
		var same *measure.Releve
		for i := range sound.result.Releves {
			if s := &sound.result.Releves[i]; math.Abs(s.StartS-one.StartS-later) < 0.05 && math.Abs(s.EndS-one.EndS-later) < 0.05 {
				same = s
			}
		}
		require.NotNil(t, same, "%s relevé from %.2f to %.2f s", one.Status, one.StartS, one.EndS)
		require.NotNil(t, one.Hold)
		require.InDelta(t, same.OverMM, one.OverMM, 2*math.Hypot(same.UOverMM, one.UOverMM))
		require.InDelta(t, same.MedialMM, one.MedialMM, 2*math.Hypot(same.UMedialMM, one.UMedialMM))
		require.InDelta(t, same.LoadN, one.LoadN, 2*one.ULoadN)
		require.InDelta(t, same.ContactShare, one.ContactShare, 2*math.Hypot(same.UContactShare, one.UContactShare))
	}
}

func hasGap(one measure.Releve) bool {
	for _, w := range one.Warnings {
		if w.Code == measure.GapInReleve {
			return true
		}
	}
	return false
}

// A chunk lost within a relevé marks that relevé and no other.
func TestChunkLostInAReleve(t *testing.T) {
	sound, path := newSoundFile(t), filepath.Join(t.TempDir(), "bad.mcap")
	second := sound.result.Releves[1]
	inIt := time.Duration((second.StartS + second.EndS) / 2 * 1e9)
	b := bytes.Clone(sound.bytes)
	b[chunkAt(t, b, uint64(sound.startNS)+uint64(inIt))] ^= 1
	require.NoError(t, os.WriteFile(path, b, 0o666))
	r, err := analyze.File(t.Context(), path, analyze.Options{})
	require.NoError(t, err)
	damaged, lost := markedAsDamaged(r)
	assert.True(t, damaged && lost)
	sound.requireSame(t, r, 0)
	whole := 0
	for _, one := range r.Releves {
		if !hasGap(one) {
			whole++
			assert.False(t, one.StartS < second.EndS && one.EndS > second.StartS, "spans the gap")
		}
	}
	assert.Equal(t, 2, whole)
}

// chunkAt returns the offset of a byte in the content of the chunk of b that was recorded at a
// time, ns since 1970.
func chunkAt(t *testing.T, b []byte, ns uint64) int {
	r, err := mcap.NewReader(bytes.NewReader(b))
	require.NoError(t, err)
	info, err := r.Info()
	require.NoError(t, err)
	for _, c := range info.ChunkIndexes {
		if c.MessageStartTime <= ns && ns <= c.MessageEndTime {
			return int(c.ChunkStartOffset + c.ChunkLength - 20)
		}
	}
	t.Fatal("no such chunk")
	return 0
}
