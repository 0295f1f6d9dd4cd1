package screen_test

import (
	"flag"
	"fmt"
	"image/color"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"charm.land/lipgloss/v2"
	"github.com/charmbracelet/x/ansi"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"aplomb/analyze/live"
	"aplomb/analyze/measure"
	"aplomb/device"
	"aplomb/device/platform"
	"aplomb/plots/screen"
)

var update = flag.Bool("update", false, "write new golden screens; look at them before committing")

func platformOf(f device.Foot) *screen.Platform {
	return screen.NewPlatform(&device.Strip{
		Name: f.String(), Foot: f, Rows: 5, Cols: 8, PitchMM: [2]float64{5, 5}, CellMM: [2]float64{5, 5},
		ADCBits: 12, SaturatesAt: 4095, FirstCell: "back-lateral", Scan: "rows",
		Calibration: device.Calibration{KPaPerCount: 0.75},
	}, &device.Shoe{Code: "A", PlatformMM: [2]float64{36, 22}, OutlineExponent: 2.5})
}

// loadedFoot returns a foot with more load towards the back and the big toe.
func loadedFoot() *live.FootState {
	f := &live.FootState{LoadN: 262, At: platform.Point{2, -4}, Located: true, KPa: make([]float64, 40), Suspect: make([]bool, 40)}
	for k := range f.KPa {
		row, col := k/8, k%8
		f.KPa[k] = max(0, 500-140*float64(row)+25*float64(col))
	}
	return f
}

func held(over, share float64, v measure.Verdict) *live.Hold {
	return &live.Hold{Settled: true, HoldS: 3.14, LoadN: 260, OverMM: over, MedialMM: -1, ContactShare: share, Verdict: v}
}

// some returns the state of a recording of both feet.
func some() *screen.State {
	return &screen.State{
		Stage: screen.Recording, File: "a1.mcap",
		Live: live.State{
			ElapsedS: 83.2, Feet: [2]*live.FootState{loadedFoot(), loadedFoot()},
			Releves: []live.Releve{
				{N: 1, EndS: 10, Feet: [2]*live.Hold{held(-5.2, 0.62, measure.PulledBack), held(-4.8, 0.7, measure.PulledBack)}, Discarded: true},
				{N: 2, EndS: 16, Feet: [2]*live.Hold{held(-0.3, 0.97, measure.OverTheBox), {}}},
				{N: 3, EndS: 22, Feet: [2]*live.Hold{nil, held(1.94, 0.91, measure.TooCloseToCall)}},
				{N: 4, EndS: 28, Feet: [2]*live.Hold{held(-12.3, 0.41, measure.PulledBack), held(0.02, 0.99, measure.ToTheSide)}},
			},
		},
		Feet: [2]screen.Line{{Frames: 16_640}, {Frames: 16_612, Lost: 27}},
		Says: []string{"relevé 1 discarded: u takes that back", "note kept: tape moved"},
	}
}

func both(colours screen.Colours) *screen.Screen {
	return &screen.Screen{Platforms: [2]*screen.Platform{platformOf(device.Left), platformOf(device.Right)}, Colours: colours}
}

// The golden screens have no styles and no colours, so that people can read them.
func TestGoldenScreens(t *testing.T) {
	for name, c := range map[string]struct {
		wide, high int
		change     func(*screen.State, *screen.Screen)
	}{
		"recording": {80, 24, nil},
		"large":     {160, 50, nil},
		"cable-out": {100, 30, func(s *screen.State, _ *screen.Screen) {
			s.Now = time.Unix(100, 0)
			s.Feet[device.Right].Away, s.Feet[device.Right].Since = "lost /dev/ttyUSB1 (read: input/output error)", time.Unix(95, 5e8)
		}},
		"press-rest":   {80, 24, pressing(live.PressState{Phase: live.PressRest}, false)},
		"press-left":   {80, 24, pressing(live.PressState{Phase: live.PressAsked}, false)},
		"press-right":  {80, 24, pressing(live.PressState{Phase: live.PressAsked, Foot: device.Right}, true)},
		"press-rock":   {80, 24, pressing(live.PressState{Phase: live.PressRocked, Edges: live.Edges{live.Back: true, live.LittleToe: true}}, true)},
		"press-let-go": {80, 24, pressing(live.PressState{Phase: live.PressLetGo, Foot: device.Right, Edges: live.Edges{true, true, true, true}}, false)},
		"press-other":  {80, 24, pressing(live.PressState{Phase: live.PressOther}, false)},
		"press-again":  {80, 24, pressing(live.PressState{Phase: live.PressAsked, Wrong: true}, true)},
		"press-both":   {100, 30, pressing(live.PressState{Phase: live.PressBoth, Wrong: true}, false)},
		"one-foot-first": {80, 24, func(s *screen.State, v *screen.Screen) {
			v.Platforms[device.Right], s.Live.Feet[device.Right], s.Live.Releves = nil, nil, nil
		}},
		"note": {80, 24, func(s *screen.State, _ *screen.Screen) { s.Noting, s.Note = true, "left ribbon was lo" }},
		"saturated": {80, 24, func(s *screen.State, _ *screen.Screen) {
			s.Live.Feet[device.Left].Doubts = []string{"1 cell at the end of its range: load and pressure are more than shown"}
			s.Live.Feet[device.Left].Suspect[12] = true
		}},
		"too-small": {60, 20, nil},
		"putting-on": {80, 24, func(s *screen.State, v *screen.Screen) {
			guided(0, 0)(s, v)
			s.Stage = screen.PuttingOn
		}},
		"counted":        {80, 24, guided(2, 3)},
		"counted-wide":   {120, 40, guided(2, 3)},
		"done":           {80, 24, guided(3, 3)},
		"done-wide":      {120, 40, guided(3, 3)},
		"both-axes":      {80, 24, at(platform.Point{-9, -6}, platform.Point{7, 5})},
		"both-axes-wide": {120, 40, at(platform.Point{-9, -6}, platform.Point{7, 5})},
		"over":           {80, 24, at(platform.Point{0.4, -1}, platform.Point{-9, 0})},
		"one-foot-up": {80, 24, func(s *screen.State, v *screen.Screen) {
			s.Planned, s.Counted = 3, [2]int{1, 1}
			s.Live.Feet[device.Right] = &live.FootState{KPa: make([]float64, 40)}
		}},
	} {
		t.Run(name, func(t *testing.T) {
			st, v := some(), both(screen.NoColours)
			if c.change != nil {
				c.change(st, v)
			}
			text := trimmed(ansi.Strip(v.Draw(st, c.wide, c.high)))
			path := filepath.Join("testdata", name+".txt")
			if *update {
				require.NoError(t, os.MkdirAll("testdata", 0o777))
				require.NoError(t, os.WriteFile(path, []byte(text), 0o666))
			}
			want, err := os.ReadFile(path)
			require.NoError(t, err)
			assert.Equal(t, string(want), text, "go test ./plots/screen -update, then look at it")
		})
	}
}

// pressing changes a state to a pad press.
func pressing(p live.PressState, watched bool) func(*screen.State, *screen.Screen) {
	return func(s *screen.State, _ *screen.Screen) {
		s.Stage, s.Press, s.Live.Releves, s.Says = screen.Pressing, p, nil, nil
		s.Watched[p.Foot] = watched
		for f, foot := range s.Live.Feet {
			loaded := p.Phase == live.PressBoth || (p.Phase == live.PressRocked || p.Phase == live.PressLetGo) && p.Foot == device.Foot(f) ||
				p.Phase == live.PressOther && p.Foot != device.Foot(f)
			if !loaded {
				*foot = live.FootState{KPa: make([]float64, 40)}
			} else {
				foot.LoadN = 92
			}
		}
	}
}

// guided changes a state to a guided fitting with the given number of relevés of three,
// while no platform is loaded.
func guided(left, right int) func(*screen.State, *screen.Screen) {
	return func(s *screen.State, _ *screen.Screen) {
		s.Guided, s.Planned, s.Counted, s.Enough = true, 3, [2]int{left, right}, left >= 3 && right >= 3
		s.Live.Releves, s.Says = s.Live.Releves[:min(len(s.Live.Releves), left+right)], nil
		for f := range s.Live.Feet {
			s.Live.Feet[f] = &live.FootState{KPa: make([]float64, 40)}
		}
	}
}

// at changes a state so that the loads are at the given place.
func at(left, right platform.Point) func(*screen.State, *screen.Screen) {
	return func(s *screen.State, _ *screen.Screen) {
		s.Planned, s.Counted = 3, [2]int{1, 2}
		s.Live.Feet[device.Left].At, s.Live.Feet[device.Right].At = left, right
	}
}

func trimmed(text string) string {
	lines := strings.Split(text, "\n")
	for i := range lines {
		lines[i] = strings.TrimRight(lines[i], " ")
	}
	return strings.Join(lines, "\n") + "\n"
}

// Every screen is as wide and as high as the window.
func TestFitsTheWindow(t *testing.T) {
	text := rapid.OneOf(rapid.String(), rapid.SampledFrom([]string{"", "x", strings.Repeat("word ", 60), strings.Repeat("界", 50), "tab\tand\nline"}))
	number := rapid.OneOf(rapid.Float64Range(-1e4, 1e4), rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), 1e12}))
	rapid.Check(t, func(t *rapid.T) {
		v := both(screen.Colours(rapid.IntRange(0, 3).Draw(t, "colours")))
		st := &screen.State{
			Stage: screen.Stage(rapid.IntRange(0, 3).Draw(t, "stage")), Press: live.PressState{
				Phase: live.PressPhase(rapid.IntRange(0, 5).Draw(t, "phase")), Foot: device.Foot(rapid.IntRange(0, 1).Draw(t, "foot")),
				Edges: live.Edges{rapid.Bool().Draw(t, "front")}, Wrong: rapid.Bool().Draw(t, "wrong"),
			},
			Watched: [2]bool{rapid.Bool().Draw(t, "left watched"), rapid.Bool().Draw(t, "right watched")},
			File:    text.Draw(t, "file"), Says: rapid.SliceOfN(text, 0, 5).Draw(t, "says"),
			Noting: rapid.Bool().Draw(t, "noting"), Note: text.Draw(t, "note"),
			Planned: rapid.IntRange(0, 20).Draw(t, "planned"), Counted: [2]int{rapid.IntRange(0, 20).Draw(t, "left counted"), 3},
			Enough: rapid.Bool().Draw(t, "enough"), Guided: rapid.Bool().Draw(t, "guided"),
		}
		st.Live.ElapsedS = rapid.Float64Range(0, 1e5).Draw(t, "elapsed")
		for f := range v.Platforms {
			if rapid.IntRange(0, 3).Draw(t, "recorded") == 0 {
				v.Platforms[f] = nil
				continue
			}
			if rapid.Bool().Draw(t, "heard") {
				foot := loadedFoot()
				foot.LoadN, foot.At = number.Draw(t, "load"), platform.Point{number.Draw(t, "medial"), number.Draw(t, "over")}
				foot.Located = rapid.Bool().Draw(t, "located")
				foot.Doubts = rapid.SliceOfN(text, 0, 2).Draw(t, "doubts")
				st.Live.Feet[f] = foot
			}
			st.Feet[f] = screen.Line{Frames: rapid.Uint64().Draw(t, "frames"), Lost: rapid.Uint64().Draw(t, "lost")}
			if rapid.Bool().Draw(t, "away") {
				st.Feet[f].Away, st.Feet[f].Since = text.Draw(t, "why"), time.Unix(rapid.Int64Range(-1e9, 1e9).Draw(t, "since"), 0)
			}
		}
		for n := range rapid.IntRange(0, 30).Draw(t, "relevés") {
			one := live.Releve{N: n + 1, Discarded: rapid.Bool().Draw(t, "discarded")}
			for f := range one.Feet {
				if rapid.Bool().Draw(t, "up") {
					one.Feet[f] = held(number.Draw(t, "over"), number.Draw(t, "share"), measure.PulledBack)
					one.Feet[f].Settled, one.Feet[f].TouchesGap = rapid.Bool().Draw(t, "settled"), rapid.Bool().Draw(t, "gap")
				}
			}
			st.Live.Releves = append(st.Live.Releves, one)
		}
		{
			wide, high := rapid.IntRange(1, 220).Draw(t, "wide"), rapid.IntRange(1, 70).Draw(t, "high")
			out := v.Draw(st, wide, high)
			for _, line := range strings.Split(out, "\n") {
				require.Equal(t, wide, lipgloss.Width(line))
			}
			require.Equal(t, high, lipgloss.Height(out))
		}
	})
}

// The list shows a verdict on both axes in full, and in a narrow window the time of the
// hold makes room for it.
func TestVerdictOnBothAxes(t *testing.T) {
	st := some()
	h := st.Live.Releves[3].Feet[device.Left]
	for wide, want := range map[int]string{80: "−12.3  41 %  3.1 s BACK + LITTLE TOE", 120: "−12.3           41 %   3.1 s   BACK + LITTLE TOE"} {
		h.Misses = []measure.Direction{measure.Behind, measure.LittleToeSide}
		assert.Contains(t, ansi.Strip(both(screen.NoColours).Draw(st, wide, 40)), want, "%d columns", wide)
	}
	h.Misses = []measure.Direction{measure.InFront, measure.LittleToeSide}
	assert.Contains(t, ansi.Strip(both(screen.NoColours).Draw(st, 80, 24)), "−12.3  41 % FORWARD + LITTLE TOE")
}

// A foot without load or without frames has no large word.
func TestNoWordWithoutLoad(t *testing.T) {
	for name, c := range map[string]func(*screen.State){
		"without load": func(s *screen.State) { s.Live.Feet[device.Left].Located = false },
		"away":         func(s *screen.State) { s.Feet[device.Left].Away = "gone" },
	} {
		st := some()
		at(platform.Point{0, 0}, platform.Point{0, 0})(st, nil)
		block := func() int { // in the rows of large words, below the loads
			rows := strings.Split(ansi.Strip(both(screen.NoColours).Draw(st, 80, 24)), "\n")[11:17]
			n := 0
			for _, row := range rows {
				n += strings.Count(string([]rune(row)[:40]), "█")
			}
			return n
		}
		require.NotZero(t, block(), name)
		c(st)
		assert.Zero(t, block(), name)
	}
}

// Big toes face each other: with the load on the big-toe side, the mark is to the
// right on the left platform and to the left on the right platform.
func TestBigToesFaceEachOther(t *testing.T) {
	st := some()
	for _, f := range st.Live.Feet {
		f.At = platform.Point{12, 0}
	}
	text := ansi.Strip(both(screen.NoColours).Draw(st, 80, 24))
	for _, line := range strings.Split(text, "\n") {
		if at := strings.IndexRune(line, 'X'); at >= 0 {
			r := []rune(line)
			var marks []int
			for i, c := range r {
				if c == 'X' {
					marks = append(marks, i)
				}
			}
			require.Len(t, marks, 2)
			assert.Greater(t, marks[0], 37/2)
			assert.Less(t, marks[1], 80-37/2)
			assert.InDelta(t, 79, marks[0]+marks[1], 1, "mirrored")
			return
		}
	}
	t.Fatal("no mark")
}

// The mark moves up, towards the front, when over increases.
func TestFrontIsUp(t *testing.T) {
	row := func(over float64) int {
		st := some()
		st.Live.Feet[device.Left].At = platform.Point{0, over}
		for y, line := range strings.Split(ansi.Strip(both(screen.NoColours).Draw(st, 120, 40)), "\n") {
			if strings.ContainsRune(string([]rune(line)[:57]), 'X') {
				return y
			}
		}
		return -1
	}
	assert.Less(t, row(8), row(0))
	assert.Less(t, row(0), row(-8))
}

// lightness returns CIE 1976 L* (CIE 15).
func lightness(c color.Color) float64 {
	r, g, b, _ := c.RGBA()
	linear := func(v uint32) float64 {
		u := float64(v) / 65535
		if u <= 0.04045 {
			return u / 12.92
		}
		return math.Pow((u+0.055)/1.055, 2.4)
	}
	y := 0.2126*linear(r) + 0.7152*linear(g) + 0.0722*linear(b)
	if y <= 216.0/24389 {
		return y * 24389 / 27
	}
	return 116*math.Cbrt(y) - 16
}

// The scale of pressure has one hue, and its lightness rises in about equal steps. In
// xterm's 256 colours it never falls.
func TestScaleOfPressure(t *testing.T) {
	all, few := screen.Scale()
	distinct := map[color.Color]bool{}
	even := (lightness(all[len(all)-1]) - lightness(all[0])) / float64(len(all)-1)
	for i := range all {
		for _, c := range []color.Color{all[i], few[i]} {
			r, g, b, _ := c.RGBA()
			assert.True(t, r >= g && g >= b, "amber or grey: step %d", i)
		}
		distinct[few[i]] = true
		if i == 0 {
			continue
		}
		assert.InDelta(t, even, lightness(all[i])-lightness(all[i-1]), 0.35*even, "step %d", i)
		assert.GreaterOrEqual(t, lightness(few[i]), lightness(few[i-1]), "step %d of 256 colours", i)
		assert.InDelta(t, lightness(all[i]), lightness(few[i]), 8, "step %d of 256 colours", i)
	}
	assert.GreaterOrEqual(t, len(distinct), 12)
}

// With 16 colours and with none the same characters represent pressure, denser for higher
// pressure.
func TestScaleInCharacters(t *testing.T) {
	st := some()
	plain := both(screen.NoColours).Draw(st, 80, 24)
	with16 := both(screen.Colours16).Draw(st, 80, 24)
	assert.Equal(t, ansi.Strip(plain), ansi.Strip(with16))
	assert.NotContains(t, with16, "38;", "none but the 16 colours")
	assert.NotContains(t, plain, "\x1b[0;3", "no colours")
	dense := []rune("·░▒▓█")
	last := 0
	for kPa := 0.0; kPa <= 1000; kPa += 20 {
		for k := range st.Live.Feet[device.Left].KPa {
			st.Live.Feet[device.Left].KPa[k] = kPa
		}
		row := []rune(strings.Split(ansi.Strip(both(screen.NoColours).Draw(st, 80, 24)), "\n")[5])
		now := slices.Index(dense, row[10])
		assert.GreaterOrEqual(t, now, last, "%v kPa", kPa)
		last = now
	}
	assert.Equal(t, len(dense)-1, last)
}

// The colour of a pressure does not depend on earlier pressures.
func TestScaleDoesNotJump(t *testing.T) {
	v, st := both(screen.TrueColours), some()
	before := v.Draw(st, 80, 24)
	strong := some()
	strong.Live.Feet[device.Left].KPa[3] = 3000
	v.Draw(strong, 80, 24)
	assert.Equal(t, before, v.Draw(st, 80, 24))
}

func BenchmarkDraw(b *testing.B) {
	for _, size := range [][2]int{{80, 24}, {200, 60}} {
		b.Run(fmt.Sprintf("%dx%d", size[0], size[1]), func(b *testing.B) {
			v, st := both(screen.TrueColours), some()
			b.ReportAllocs()
			for b.Loop() {
				v.Draw(st, size[0], size[1])
			}
		})
	}
}

// The shoe stays in the first line of a narrow window after frames have five digits.
func TestHeaderKeepsTheShoe(t *testing.T) {
	st := some()
	st.File = "D7, step 1 of 3, shoe A"
	header, _, _ := strings.Cut(ansi.Strip(both(screen.NoColours).Draw(st, 80, 24)), "\n")
	assert.Contains(t, header, "D7, step 1 of 3, shoe A  1:23 ")
	assert.Contains(t, header, "frames lost: left 0, right 27")
}
