// Package screen draws a recording in progress as lines of styled text for a
// terminal: both platforms with the pressure on them, and the relevés so far. Each
// screen is drawn from a State. Between two screens only the end of the scale of
// pressure and the rasters for the size of the window are kept.
package screen

import (
	"fmt"
	"math"
	"strings"
	"time"

	"aplomb/analyze/live"
	"aplomb/device"
	"aplomb/plots/words"
)

// Stage is the step that a recording has reached.
type Stage int

const (
	Pressing  Stage = iota // recording, and the platforms are to be pressed on a pad
	Recording              // recording relevés
	Ending                 // the file is being finished
)

// State is the content of one screen.
type State struct {
	Stage   Stage
	Press   live.PressState // while Pressing
	Watched [2]bool         // by device.Foot, whether the foot is being watched
	File    string
	Live    live.State
	Feet    [2]Line
	Stop    string    // reason not to rise now; empty where there is none
	Says    []string  // messages, the newest last
	Now     time.Time // the time at which the screen is drawn

	Noting bool   // a note is being written
	Note   string // the text so far
}

// Line is the state of the serial line of one foot.
type Line struct {
	Frames uint64    // received
	Lost   uint64    // missing between them
	Away   string    // reason why no frames arrive; empty while they do
	Since  time.Time // when they stopped arriving
}

// Screen draws the screens of one recording.
type Screen struct {
	Platforms [2]*Platform // nil for a foot that is not recorded
	Colours   bool         // whether the terminal has colours; otherwise characters stand for pressure

	topKPa     float64 // the largest pressure so far
	rasters    [2]*raster
	rastersFor layout // the layout that rasters were made for
}

// The smallest window, in columns and rows, that has room for everything.
const (
	LeastWide = 80
	LeastHigh = 24
)

// layout is the division of a window, in columns and rows.
type layout struct {
	wide, high int
	half       int // columns of each foot
	right      int // first column of the right foot
	picture    int // rows of a platform
	letterSize int // size of large letters
	list       int // rows for relevés
	messages   int // rows for messages
}

// middleColumns is the number of columns between the feet.
const middleColumns = 6

func newLayout(wide, high int) layout {
	l := layout{wide: wide, high: high, half: (wide - middleColumns) / 2, letterSize: 2, messages: 1}
	l.right = wide - l.half
	switch {
	case wide >= 150 && high >= 48:
		l.letterSize = 4
	case wide >= 112 && high >= 34:
		l.letterSize = 3
	}
	if high >= 32 {
		l.messages = 3
	}
	// The seven other rows: header, feet, load share, caption, head of the list, two of keys.
	rest := high - 7 - largeRows(l.letterSize) - l.messages
	l.list = max(3, rest/3)
	l.picture = rest - l.list
	return l
}

// Draw returns a screen of wide × high characters as styled text, lines separated
// by line feeds. A window smaller than LeastWide × LeastHigh shows only that it is
// too small.
func (s *Screen) Draw(st *State, wide, high int) string {
	c := newCanvas(wide, high)
	if wide < LeastWide || high < LeastHigh {
		s.drawTooSmall(c, st)
		return c.render(s.Colours)
	}
	l := newLayout(wide, high)
	s.seatStrips(st)
	s.makeRasters(l)
	y := 0
	s.drawHeader(c, st, y)
	y++
	for f := range s.Platforms {
		s.drawFoot(c, l, st, device.Foot(f), y)
	}
	y += 1 + l.picture
	s.drawShare(c, l, st, y)
	y++
	if st.Stage == Pressing {
		s.drawPressing(c, l, st, y)
	} else {
		s.drawLastReleve(c, l, st, y)
	}
	y += largeRows(l.letterSize) + 1
	if st.Stage == Pressing {
		s.drawPressHow(c, l, st, y)
	} else {
		s.drawList(c, l, st, y)
	}
	y += 1 + l.list
	for i := range l.messages {
		if k := len(st.Says) - l.messages + i; k >= 0 {
			textStyle := usual
			if k == len(st.Says)-1 {
				textStyle = strong
			}
			c.write(1, y+i, wide-2, textStyle, st.Says[k])
		}
	}
	s.drawKeys(c, st, high-2)
	return c.render(s.Colours)
}

// seatStrips lays each strip where a pad press has shown it to lie.
func (s *Screen) seatStrips(st *State) {
	for f, v := range s.Platforms {
		if now := st.Live.Feet[f]; v != nil && now != nil && now.Strip != nil && now.Strip != v.Strip {
			s.Platforms[f] = newPlatform(now.Strip, v.Outline)
			s.rastersFor = layout{}
		}
	}
}

// makeRasters makes the rasters of both platforms for a layout, at one scale.
func (s *Screen) makeRasters(l layout) {
	if s.rastersFor == l {
		return
	}
	s.rastersFor = l
	wide, high := l.half-2, 2*l.picture
	mm := 0.0
	for _, v := range s.Platforms {
		if v != nil {
			mm = max(mm, v.scaleFor(wide, high))
		}
	}
	for f, v := range s.Platforms {
		if v != nil {
			s.rasters[f] = newRaster(v, wide, high, mm)
		}
	}
}

func (s *Screen) drawTooSmall(c *canvas, st *State) {
	y := max(0, c.high/2-1)
	c.centre(0, y, c.wide, strong, fmt.Sprintf("make this window %d × %d or larger", LeastWide, LeastHigh))
	c.centre(0, y+1, c.wide, usual, fmt.Sprintf("it is %d × %d", c.wide, c.high))
	if st.Stage != Ending {
		c.centre(0, y+2, c.wide, usual, "the recording goes on")
	}
}

func (s *Screen) drawHeader(c *canvas, st *State, y int) {
	left := st.File
	if st.Stage == Ending {
		left += ", being finished"
	}
	var counts []string
	unit := ""
	if c.wide >= 110 {
		unit = " frames"
	}
	for f, v := range s.Platforms {
		if v != nil {
			counts = append(counts, fmt.Sprintf("%s %d%s, %d lost", device.Foot(f), st.Feet[f].Frames, unit, st.Feet[f].Lost))
		}
	}
	right := strings.Join(counts, "  ")
	room := c.wide - columns(right) - 3
	if st.Stage != Ending {
		left = cut(left, room-9) + "  " + clock(st.Live.ElapsedS)
	}
	c.write(1, y, room, strong, left)
	c.right(1, y, c.wide-2, usual, right)
}

// clock writes a length of time as minutes and seconds.
func clock(s float64) string {
	n := int(max(0, s))
	return fmt.Sprintf("%d:%02d", n/60, n%60)
}

// startColumn returns the first column of a foot.
func (l layout) startColumn(f device.Foot) int {
	if f == device.Right {
		return l.right
	}
	return 0
}

// drawFoot draws one platform below its name.
func (s *Screen) drawFoot(c *canvas, l layout, st *State, f device.Foot, y int) {
	x := l.startColumn(f)
	now := st.Live.Feet[f]
	switch {
	case s.Platforms[f] == nil:
		c.centre(x, y, l.half, quiet, f.String()+" foot not recorded")
		return
	case st.Feet[f].Away != "":
		s.drawAway(c, l, st, f, y)
		return
	case now == nil || len(now.KPa) == 0:
		c.centre(x, y, l.half, quiet, f.String()+": waiting for its first frame")
		return
	}
	for _, kPa := range now.KPa {
		s.topKPa = max(s.topKPa, kPa)
	}
	title := strings.ToUpper(f.String()) + fmt.Sprintf("  %s N", words.Number(now.LoadN, 0))
	if now.Located {
		title += fmt.Sprintf("   over %s mm", words.Signed(now.At[1], 1))
	}
	textStyle := strong
	if len(now.Doubts) > 0 {
		title = strings.ToUpper(f.String()) + "  " + now.Doubts[0]
		textStyle = style{fore: alarmText, back: alarmGround, bold: true}
	}
	c.centre(x, y, l.half, textStyle, title)
	var loaded live.Edges
	if st.Stage == Pressing && st.Press.Foot == f {
		loaded = st.Press.Edges
	}
	s.rasters[f].draw(c, x+1, y+1, now, s.top(), s.Colours, loaded)
	s.labelEnds(c, l, f, y+1)
}

// labelEnds names the ends of a platform whose raster begins in row y.
func (s *Screen) labelEnds(c *canvas, l layout, f device.Foot, y int) {
	x, bottom := l.startColumn(f)+1, y+l.picture-1
	if f == device.Left {
		c.write(x, y, 6, quiet, "front")
		c.write(x, bottom, 6, quiet, "back")
		c.right(x, bottom, l.half-2, quiet, "big toe ›")
		return
	}
	c.right(x, y, l.half-2, quiet, "front")
	c.right(x, bottom, l.half-2, quiet, "back")
	c.write(x, bottom, 9, quiet, "‹ big toe")
}

// top returns the pressure at the end of the scale, kPa: the largest so far, rounded
// up to a multiple of 200.
func (s *Screen) top() float64 { return max(200, 200*math.Ceil(s.topKPa/200)) }

// drawAway writes in large letters that no frames arrive, and why.
func (s *Screen) drawAway(c *canvas, l layout, st *State, f device.Foot, y int) {
	x := l.startColumn(f)
	ground := style{fore: alarmText, back: alarmGround, bold: true}
	on, around := alarmText, alarmGround
	if !s.Colours {
		on, around = alarmGround, noColour
	}
	for row := range l.picture + 1 {
		c.write(x, y+row, l.half, ground, strings.Repeat(" ", l.half))
	}
	long := int(max(0, st.Now.Sub(st.Feet[f].Since).Seconds()))
	c.centre(x, y, l.half, ground, fmt.Sprintf("%s, for %d s", strings.ToUpper(f.String()), long))
	size := largest("FRAMES", l.half-2, 4)
	for size > 1 && 2*largeRows(size)+4 > l.picture {
		size--
	}
	row := y + 1
	for _, word := range []string{"NO", "FRAMES"} {
		c.writeLarge(x+(l.half-size*large(word))/2, row, size, word, on, around)
		row += largeRows(size)
		if l.picture > 2*largeRows(size)+4 {
			row++
		}
	}
	lines := wrap(st.Feet[f].Away, l.half-2)
	if st.Stage != Ending {
		lines = append(lines, "the recording waits for them")
	}
	for i := 0; i < len(lines) && row <= y+l.picture; i++ {
		c.centre(x+1, row, l.half-2, ground, lines[i])
		row++
	}
}

// drawShare draws how the load is shared between the feet.
func (s *Screen) drawShare(c *canvas, l layout, st *State, y int) {
	if s.Platforms[device.Left] == nil || s.Platforms[device.Right] == nil {
		return
	}
	var load [2]float64
	for f, foot := range st.Live.Feet {
		if foot != nil && st.Feet[f].Away == "" {
			load[f] = max(0, foot.LoadN)
		}
	}
	const ends = 13
	wide := c.wide - 2*ends
	if st.Feet[device.Left].Away != "" || st.Feet[device.Right].Away != "" || load[0]+load[1] < live.LoadFloorN {
		c.centre(ends, y, wide, quiet, strings.Repeat("·", wide/2-1)+"│"+strings.Repeat("·", wide/2-1))
		c.write(1, y, ends-1, quiet, "load share")
		return
	}
	left := load[device.Left] / (load[device.Left] + load[device.Right])
	c.right(0, y, ends-1, strong, fmt.Sprintf("left %.0f %%", 100*left))
	c.write(c.wide-ends+1, y, ends-1, strong, fmt.Sprintf("right %.0f %%", 100*(1-left)))
	leftEnd := int(math.Round(float64(wide) * left))
	for i := range wide {
		p := character{char: '━', fore: pressureScale + 11}
		if i >= leftEnd {
			p = character{char: '─'}
		}
		if i == wide/2 {
			p = character{char: '┃', bold: true}
		}
		c.set(ends+i, y, p)
	}
}

// PressWords returns what a pad press waits for, in one or two words in capitals and in one
// line.
func PressWords(p live.PressState) (word, text string) {
	foot := strings.ToUpper(p.Foot.String())
	switch p.Phase {
	case live.PressRest:
		return "HANDS OFF", "leave the strips without load for a second"
	case live.PressRocked:
		return "ROCK " + foot, words.PressToGo(p.Edges)
	case live.PressLetGo:
		return "LET GO", "all edges are loaded: let go of the " + p.Foot.String() + " platform"
	case live.PressOther:
		return "NOT THIS", "the " + p.Foot.Other().String() + " foot's strip: let go, press the " + p.Foot.String() + " shoe, or swap the strips"
	case live.PressBoth:
		return "ONLY " + foot, words.PressBoth(p.Foot)
	}
	return "PRESS " + foot, words.PressAsk(p.Foot)
}

// drawPressing asks for the pad press of a platform, and says how far it has come.
func (s *Screen) drawPressing(c *canvas, l layout, st *State, y int) {
	word, text := PressWords(st.Press)
	size := largest(word, c.wide, l.letterSize)
	c.writeLarge((c.wide-size*large(word))/2, y, size, word, pressureScale+13, noColour)
	c.centre(1, y+largeRows(l.letterSize), c.wide-2, strong, text)
}

// drawPressHow says how a platform is pressed on a pad, below what drawPressing asks.
func (s *Screen) drawPressHow(c *canvas, l layout, st *State, y int) {
	f := st.Press.Foot
	c.centre(1, y, c.wide-2, usual, words.PressHow())
	row := y + 1
	if st.Watched[f] {
		c.centre(1, row, c.wide-2, style{fore: alarmText, back: alarmGround, bold: true}, " "+words.PressWatched(f)+" ")
		row++
	}
	if other := s.Platforms[f.Other()]; st.Press.Wrong && other != nil && st.Press.Phase <= live.PressAsked {
		for _, line := range wrap(words.PressOther(f, other.Strip), c.wide-2) {
			if row <= y+l.list {
				c.centre(1, row, c.wide-2, strong, line)
			}
			row++
		}
	}
}

// drawKeys writes what each key does, and the caution about pain.
func (s *Screen) drawKeys(c *canvas, st *State, y int) {
	const care = "Pain means stop. Have a barre or a spotter."
	switch {
	case st.Noting:
		c.write(1, y, c.wide-2, strong, "note: "+ending(st.Note, c.wide-9)+"▏")
		c.write(1, y+1, c.wide-2, quiet, "Enter keeps it, Esc drops it")
		return
	case st.Stage == Pressing:
		c.write(1, y, c.wide-2, usual, "s skip the press   n note   q stop")
	case st.Stage == Recording:
		c.write(1, y, c.wide-2, usual, "n note   d discard the last relevé   u take that back   p pad press   q stop")
	}
	if st.Stop != "" {
		c.write(1, y+1, c.wide-2, style{fore: alarmText, back: alarmGround, bold: true}, " "+st.Stop+" ")
		return
	}
	c.write(1, y+1, c.wide-2, strong, care)
	c.right(c.wide/2, y+1, c.wide-c.wide/2-1, quiet, fmt.Sprintf("pressure 0 to %.0f kPa", s.top()))
}
