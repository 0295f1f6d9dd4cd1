package secondscreen_test

import (
	"context"
	"io"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"aplomb/cmd/internal/browsertest"
	"aplomb/cmd/internal/capture"
	"aplomb/cmd/internal/secondscreen"
	"aplomb/device"
	"aplomb/device/link"
	"aplomb/device/platform"
	"aplomb/device/recording"
	"aplomb/device/sim"
)

// paced is a simulated session whose frames come in time, a number of times faster than
// life.
type paced struct {
	*capture.Simulated
	faster  int64
	began   time.Time
	firstNS int64
	frames  int
}

func (s *paced) Next(f *device.Frame) error {
	if err := s.Simulated.Next(f); err != nil {
		return err
	}
	if s.frames == 0 {
		s.began, s.firstNS = time.Now(), f.ArrivalNS
	}
	s.frames++
	time.Sleep(time.Until(s.began.Add(time.Duration((f.ArrivalNS - s.firstNS) / s.faster))))
	return nil
}

// newRecorder returns a recorder of a dancer who rises once, behind the kern on the left
// foot and over it on the right one.
func newRecorder(t testing.TB, source *paced) *capture.Recorder {
	m := device.Metadata{Dancer: "D7", Started: time.Date(2026, 3, 7, 10, 0, 0, 0, time.UTC), Software: "test", Feedback: "after"}
	setup := sim.Setup{Seed: 1, Start: m.Started, RateHz: 200, Mounting: "1", Dancer: sim.DefaultDancer(), Faults: sim.DefaultFaults()}
	setup.Dancer.Rises = 1
	for f := range m.Sides {
		m.Sides[f] = &device.Side{
			Strip: &device.Strip{
				Name: "S", Foot: device.Foot(f), Rows: 6, Cols: 9, PitchMM: [2]float64{5, 5}, CellMM: [2]float64{5, 5},
				ADCBits: 12, SaturatesAt: 4095, FirstCell: "back-lateral", Scan: "rows",
				Calibration: device.Calibration{KPaPerCount: 0.75}, Mount: device.Mount{SeatSDMM: 0.2},
			},
			Shoe: &device.Shoe{Code: "A", PlatformMM: [2]float64{35, 21}, OutlineExponent: 2.5},
		}
		setup.Feet[f] = &sim.Foot{Strip: m.Sides[f].Strip, Shoe: m.Sides[f].Shoe, Stand: sim.Stand{CoPMM: [2]platform.Point{{-1, -6.5}, {0.3, -0.2}}[f]}}
	}
	session, err := sim.NewSession(setup)
	require.NoError(t, err)
	r := &capture.Recorder{Meta: m, Path: filepath.Join(t.TempDir(), "a.mcap")}
	r.Open = func(ctx context.Context, _ func(device.Foot, link.Notice)) (capture.Source, error) {
		source.Simulated = capture.NewSimulated(ctx, session, &r.Meta)
		return source, nil
	}
	return r
}

// Both pages run in Chromium while a dancer rises once: the fitter's follows her, the
// dancer's shows the relevé when it is done. One page is reopened, another is closed, a
// third never reads, and the recording has every frame. The delay of a frame on the
// screen is logged.
func TestRecordingInChromium(t *testing.T) {
	t.Parallel()
	ctx := browsertest.Chromium(t)
	s := start(t, false)
	source := &paced{faster: 2}
	r := newRecorder(t, source)
	mon := capture.NewMonitor(&r.Meta, "a", capture.PressOptions{})
	mon.Watch = s.Follow(&r.Meta, secondscreen.State{Shoe: "A", Planned: 1})
	r.Recorded = mon.Frame
	r.Marks, r.End = mon.Events, mon.End

	fitter, dancer, closed := window(t, ctx), window(t, ctx), window(t, ctx)
	shows(t, fitter, s.FitterAddress(), "Shoe A")
	shows(t, dancer, s.DancerAddress(), "Shoe A")
	shows(t, closed, s.FitterAddress(), "Shoe A")
	open(t, s.FitterAddress()) // and never reads
	late := run[bool](t, fitter, measureLateness)
	require.True(t, late)

	done := make(chan error, 1)
	go func() {
		_, err := r.Run(context.Background())
		done <- err
	}()
	says(t, fitter, `"BACK"`, `"OVER"`)
	now := run[string](t, dancer, `document.body.innerText`)
	assert.NotContains(t, now, "BACK", "she is in it")
	assert.Contains(t, now, "Each relevé is shown when it is done.")
	require.NoError(t, chromedp.Cancel(closed))
	says(t, fitter, `"1 of 1"`)
	ms := run[[]float64](t, fitter, `late`)
	require.NoError(t, chromedp.Do(fitter, chromedp.Reload()))
	says(t, fitter, `"1 of 1"`)
	says(t, dancer, `"BACK"`, `"OVER"`, `"Relevé 1 of 1"`)
	require.NoError(t, <-done)

	slices.Sort(ms)
	require.NotEmpty(t, ms)
	t.Logf("from the frame to the screen: median %.0f ms, 95 %% within %.0f ms, of %d", ms[len(ms)/2], ms[len(ms)*95/100], len(ms))
	recorded, err := recording.Open(t.Context(), r.Path)
	require.NoError(t, err)
	defer recorded.Close()
	n := 0
	var f device.Frame
	for ; err == nil; n++ {
		err = recorded.Next(&f)
	}
	require.ErrorIs(t, err, io.EOF)
	assert.Equal(t, source.frames, n-1)
}

// measureLateness has a page keep how long after its arrival a frame was on the screen, ms.
// What one animation frame draws is on the screen when the next one begins.
const measureLateness = `(() => {
  window.late = [];
  new MutationObserver(() => {
    const arrived = Number(document.body.dataset.frame);
    requestAnimationFrame(() => { if (arrived) late.push(Date.now() - arrived) });
  }).observe(document.body, {attributes: true, attributeFilter: ["data-frame"]});
  return true;
})()`

// window opens a window of a browser with its own connections.
func window(t testing.TB, ctx context.Context) context.Context {
	ctx, stop := chromedp.NewContext(ctx, chromedp.WithNewBrowserContext())
	var once sync.Once
	t.Cleanup(func() { once.Do(stop) })
	return ctx
}

// run evaluates an expression on a page.
func run[T any](t testing.TB, ctx context.Context, expression string) T {
	t.Helper()
	got, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression))
	require.NoError(t, err)
	return got
}

// shows opens an address and waits until a text is on the page.
func shows(t testing.TB, ctx context.Context, address, text string) {
	t.Helper()
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(address)))
	says(t, ctx, `"`+text+`"`)
}

// says waits until texts, each in quotes, are on a page.
func says(t testing.TB, ctx context.Context, texts ...string) {
	t.Helper()
	for _, text := range texts {
		require.Eventually(t, func() bool { return run[bool](t, ctx, "document.body.innerText.includes("+text+")") },
			20*time.Second, 20*time.Millisecond, "%s is not on the page", text)
	}
}
