// Package screen draws a recording in progress as lines of styled text for a terminal:
// both platforms with the pressure on them, where the load of each foot sits in a large
// word, and the relevés so far. Each screen is drawn from a State. Between two screens it
// keeps only the positions of the loads and the rasters for the size of the window.
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
	PuttingOn              // recording, and the shoes are to be put on
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
	Planned int       // relevés of each foot; 0 where nothing is planned
	Counted [2]int    // relevés of each foot that count so far, by device.Foot
	Enough  bool      // every foot has as many relevés as planned
	Guided  bool      // part of a guided fitting, with three keys
	Doubt   string    // why a shoe other than the named one may be under a strip; empty where there is no doubt
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
	Colours   Colours      // of the terminal

	places     [2]Place // of the loads on the last screen
	rasters    [2]*raster
	rastersFor layout // the layout that rasters were made for
}

// The smallest window, in columns and rows, in which everything fits.
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
	letters    int // rows for large words
	list       int // rows for relevés
	messages   int // rows for messages
}

// middleColumns is the number of columns between the feet.
const middleColumns = 6

func newLayout(wide, high int) layout {
	l := layout{wide: wide, high: high, half: (wide - middleColumns) / 2, letters: 6, messages: 1}
	l.right = wide - l.half
	if wide >= 112 && high >= 36 {
		l.letters = 11
	}
	if high >= 32 {
		l.messages = 3
	}
	// The six other rows: header, feet, loads, head of the list, two of keys.
	rest := high - 6 - l.letters - l.messages
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
	s.placeLoads(st)
	s.makeRasters(l)
	y := 0
	s.drawHeader(c, st, y)
	y++
	for f := range s.Platforms {
		s.drawFoot(c, l, st, device.Foot(f), y)
	}
	y += 1 + l.picture
	s.drawLoads(c, l, st, y)
	y++
	if word, _ := Asked(st); word != "" {
		c.writeLarge(0, y, wide, l.letters, word)
	} else {
		s.drawWords(c, l, st, y)
	}
	y += l.letters
	if st.Stage == Pressing || st.Stage == PuttingOn {
		s.drawAsked(c, l, st, y)
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

// seatStrips places each strip at the seat estimated from a pad press.
func (s *Screen) seatStrips(st *State) {
	for f, v := range s.Platforms {
		if now := st.Live.Feet[f]; v != nil && now != nil && now.Strip != nil && now.Strip != v.Strip {
			s.Platforms[f] = newPlatform(now.Strip, v.Outline)
			s.rastersFor = layout{}
		}
	}
}

// placeLoads records where the load of each foot sits.
func (s *Screen) placeLoads(st *State) {
	for f, v := range s.Platforms {
		if now := st.Live.Feet[f]; v != nil && now != nil && now.Located && st.Feet[f].Away == "" {
			s.places[f] = Where(v.Kern, now.At, s.places[f])
		} else {
			s.places[f] = Place{}
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
	var counts, losses []string
	unit := ""
	if c.wide >= 110 {
		unit = " frames"
	}
	for f, v := range s.Platforms {
		if v != nil {
			counts = append(counts, fmt.Sprintf("%s %d%s, %d lost", device.Foot(f), st.Feet[f].Frames, unit, st.Feet[f].Lost))
			losses = append(losses, fmt.Sprintf("%s %d", device.Foot(f), st.Feet[f].Lost))
		}
	}
	right := strings.Join(counts, "  ")
	if unit == "" {
		right = "frames: " + right
	}
	if columns(left)+9 > c.wide-columns(right)-3 {
		right = "frames lost: " + strings.Join(losses, ", ")
	}
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
	title := strings.ToUpper(f.String())
	if st.Planned > 0 && st.Stage != Pressing {
		title += fmt.Sprintf("  %d of %d", st.Counted[f], st.Planned)
	}
	title += fmt.Sprintf("  %s N", words.Number(now.LoadN, 0))
	if now.Located {
		title += fmt.Sprintf("  over %s mm", words.Signed(now.At[1], 1))
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
	s.rasters[f].draw(c, x+1, y+1, now, s.Colours, loaded)
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

// drawAway writes in large letters that no frames arrive, what to do, and why.
func (s *Screen) drawAway(c *canvas, l layout, st *State, f device.Foot, y int) {
	x := l.startColumn(f)
	ground := style{fore: alarmText, back: alarmGround, bold: true}
	on, around := alarmText, alarmGround
	if s.Colours == NoColours {
		on, around = alarmGround, noColour
	}
	for row := range l.picture + 1 {
		c.write(x, y+row, l.half, ground, strings.Repeat(" ", l.half))
	}
	long := int(max(0, st.Now.Sub(st.Feet[f].Since).Seconds()))
	c.centre(x, y, l.half, ground, fmt.Sprintf("%s, for %d s", strings.ToUpper(f.String()), long))
	first, second, _ := strings.Cut(words.NoSignal, " ")
	size := min(4, (l.half-2)/large(second))
	for size > 1 && 2*largeRows(size)+4 > l.picture {
		size--
	}
	row := y + 1
	for _, word := range []string{first, second} {
		c.writeLetters(x+(l.half-size*large(word))/2, 2*row, lettering{size, size}, word, on, around)
		row += largeRows(size)
		if l.picture > 2*largeRows(size)+4 {
			row++
		}
	}
	lines := append([]string{words.CheckCable(f)}, wrap(st.Feet[f].Away, l.half-2)...)
	if st.Stage != Ending {
		lines = append(lines, words.GoesOn)
	}
	for i := 0; i < len(lines) && row <= y+l.picture; i++ {
		c.centre(x+1, row, l.half-2, ground, lines[i])
		row++
	}
}

// loadColumns is the number of columns of the label of a load bar.
const loadColumns = 12

// drawLoads draws the share of the load that each foot bears, as a bar from the middle
// outwards with a mark at one half.
func (s *Screen) drawLoads(c *canvas, l layout, st *State, y int) {
	if s.Platforms[device.Left] == nil || s.Platforms[device.Right] == nil {
		return
	}
	var load [2]float64
	heard := true
	for f, foot := range st.Live.Feet {
		heard = heard && foot != nil && st.Feet[f].Away == ""
		if foot != nil {
			load[f] = max(0, foot.LoadN)
		}
	}
	all := load[device.Left] + load[device.Right]
	c.centre(l.half, y, middleColumns, quiet, "load")
	for _, f := range device.Feet {
		share, label, textStyle := 0.0, f.String()+" –", quiet
		if heard && all >= live.LoadFloorN {
			share = load[f] / all
			label, textStyle = fmt.Sprintf("%s %.0f %%", f, 100*share), strong
		}
		wide := l.half - loadColumns - 1
		for i := range wide { // from the middle outwards
			p := character{char: '·', dim: true}
			switch {
			case i < int(math.Round(float64(wide)*share)):
				p = character{char: '━', fore: letterColour}
			case i == wide/2:
				p = character{char: '│', dim: true}
			}
			if f == device.Left {
				c.set(l.half-1-i, y, p)
			} else {
				c.set(l.right+i, y, p)
			}
		}
		if f == device.Left {
			c.write(1, y, loadColumns, textStyle, label)
		} else {
			c.right(1, y, c.wide-2, textStyle, label)
		}
	}
}

// Asked returns what the recording asks the user to do now, in one or two words in
// capitals and in one line; empty while it records relevés.
func Asked(st *State) (word, text string) {
	switch st.Stage {
	case Pressing:
		return pressWords(st.Press)
	case PuttingOn:
		if st.Doubt != "" {
			return "WHICH SHOE", st.Doubt
		}
		return "SHOES ON", words.TugTest
	}
	return "", ""
}

// pressWords returns what a pad press waits for, in one or two words in capitals and in one
// line.
func pressWords(p live.PressState) (word, text string) {
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

// drawAsked writes below the large word what is requested, and how it is done.
func (s *Screen) drawAsked(c *canvas, l layout, st *State, y int) {
	_, text := Asked(st)
	c.centre(1, y, c.wide-2, strong, text)
	if st.Stage != Pressing {
		return
	}
	f := st.Press.Foot
	c.centre(1, y+1, c.wide-2, usual, words.PressHow())
	row := y + 2
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

// keys returns the function of each key. In a guided fitting these are the three keys
// that a presenter's remote or a pedal has too, and a few others.
func keys(st *State) string {
	switch {
	case st.Stage == Pressing && st.Guided:
		return "space next: skip the press   n note   q stop"
	case st.Stage == Pressing:
		return "s skip the press   n note   q stop"
	case st.Stage == PuttingOn:
		return "space next: the shoes are on   tab repeat: press again   n note   q stop"
	case st.Stage == Recording && st.Guided && st.Enough:
		return "space next: end this   tab repeat: press again   backspace undo: discard last"
	case st.Stage == Recording && st.Guided:
		return "space next   tab repeat: press again   backspace undo: discard last   n note"
	case st.Stage == Recording:
		return "n note   d discard the last relevé   u take that back   p pad press   q stop"
	}
	return ""
}

// drawKeys writes the function of each key, and the caution about pain.
func (s *Screen) drawKeys(c *canvas, st *State, y int) {
	if st.Noting {
		c.write(1, y, c.wide-2, strong, "note: "+ending(st.Note, c.wide-9)+"▏")
		c.write(1, y+1, c.wide-2, quiet, "Enter keeps it, Esc drops it")
		return
	}
	c.write(1, y, c.wide-2, usual, keys(st))
	if st.Stop != "" {
		c.write(1, y+1, c.wide-2, style{fore: alarmText, back: alarmGround, bold: true}, " "+st.Stop+" ")
		return
	}
	c.write(1, y+1, c.wide-2, strong, words.Caution)
	drawScale(c, c.wide-1, y+1, s.Colours)
}
