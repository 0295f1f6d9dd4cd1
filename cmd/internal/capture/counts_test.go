//go:build !race

package capture_test

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/analyze"
	"aplomb/analyze/measure"
	"aplomb/cmd/internal/capture"
	"aplomb/device"
	"aplomb/device/link"
	"aplomb/device/sim"
)

// For any movements every frame is kept, and the live view counts the relevés that the
// analysis finds. The number of examples is fixed, because each writes a recording.
func TestLiveCountsAsAnalyzed(t *testing.T) {
	compared := 0
	for i := range 16 {
		s := &mapped{script: script{then: io.EOF}}
		s.rests(120)
		typed := make(chan string, 20)
		marks := map[int]string{}
		done := deeds.Example(i)
		for _, deed := range done {
			switch deed {
			case "rest":
				s.rests(150)
			case "left", "right":
				foot, _ := device.ParseFoot(deed)
				s.rocks(t, foot, once)
				s.rests(60)
			case "left in part", "right in part":
				foot, _ := device.ParseFoot(strings.Fields(deed)[0])
				s.rocks(t, foot, sim.PadPress{Turns: 0.4})
				s.rests(60)
			case "stand":
				s.stands()
			case "knock":
				s.maps = append(s.maps, [2][]uint16{full(200), full(3)}, [2][]uint16{full(200), full(3)})
				s.rests(30)
			default:
				marks[2*len(s.maps)] = deed
				s.rests(20)
			}
		}
		s.rests(100)
		s.at = func(n int) {
			if m := marks[n]; m != "" {
				typed <- m
			}
		}
		r := recorder(t, &s.script)
		r.Open = func(ctx context.Context, _ func(device.Foot, link.Notice)) (capture.Source, error) {
			s.ctx = ctx
			return s, nil
		}
		var out bytes.Buffer
		_, err := capture.RunInLines(t.Context(), r, capture.Lines{Out: &out, Now: time.Now, What: "to a test", Press: capture.PressOptions{Ask: i%4 > 0}, Typed: typed})
		require.NoError(t, err)
		held, _ := read(t, r.Path)
		assert.Equal(t, 2*len(s.maps), held)
		result, err := analyze.File(t.Context(), r.Path, analyze.Options{})
		require.NoError(t, err)
		if unmarked := func(p measure.Press) bool { return p.Found }; slices.ContainsFunc(result.Presses[0], unmarked) || slices.ContainsFunc(result.Presses[1], unmarked) {
			continue // only the analysis finds it
		}
		compared++
		n := 0
		for _, one := range result.Releves {
			n = max(n, one.N)
		}
		live := 0
		for line := range strings.Lines(out.String()) {
			if k, err := fmt.Sscanf(line, "relevé %d,", &live); k == 1 && err == nil {
				continue
			}
		}
		assert.Equal(t, n, live, "example %d: %q\n%s", i, done, &out)
	}
	assert.GreaterOrEqual(t, compared, 10)
}
