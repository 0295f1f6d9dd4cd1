// Package screen draws what a recording shows while it is made, as lines of
// styled text for a terminal: both platforms with the load on them, and the
// relevés so far. A state goes in, text comes out; nothing is kept but what
// depends on the size of the window alone.
package screen

import (
	"fmt"
	"math"
	"strings"
	"time"

	"aplomb/analyze/live"
	"aplomb/device"
	"aplomb/plots"
)

// Stage is how far a recording has got.
type Stage int

const (
	Pressing  Stage = iota // before it begins: somebody is to press the left platform
	Recording              // frames go to the file
	Ending                 // the file is being made
)

// State is what a screen shows.
type State struct {
	Stage   Stage
	Pressed live.Pressed // while Pressing
	File    string
	Live    live.State
	Feet    [2]Line
	Stop    string    // why nobody should rise now; "" where nothing says so
	Says    []string  // what happened and what was done, the newest last
	Now     time.Time // for how long something has been so

	Noting bool   // a note is being written
	Note   string // what there is of it
}

// Line is what there is to say of the line of a foot.
type Line struct {
	Frames uint64
	Lost   uint64
	Away   string    // why no frames come; "" while they do
	Since  time.Time // when they stopped
}

// Screen draws one recording.
type Screen struct {
	Sides   [2]*Side // nil for a foot that is not recorded
	Colours bool     // otherwise characters stand for them

	topKPa   float64 // the end of the scale of pressure
	pictures [2]*picture
	laid     layout // what pictures were made for
}

// The smallest window in which there is room for all.
const (
	LeastWide = 80
	LeastHigh = 24
)

// layout says where things stand in a window.
type layout struct {
	wide, high int
	half       int // columns of each foot
	right      int // where those of the right foot begin
	picture    int // rows of a platform
	letters    int // size of large letters
	list       int // rows for relevés
	says       int // rows for what happened
}

// spine is how many columns there are between the feet.
const spine = 6

func lay(wide, high int) layout {
	l := layout{wide: wide, high: high, half: (wide - spine) / 2, letters: 2, says: 1}
	l.right = wide - l.half
	switch {
	case wide >= 150 && high >= 48:
		l.letters = 4
	case wide >= 112 && high >= 34:
		l.letters = 3
	}
	if high >= 32 {
		l.says = 3
	}
	// What has a fixed height: header, feet, share, caption, head of the list, two of keys.
	rest := high - 7 - largeRows(l.letters) - l.says
	l.list = max(3, rest/3)
	l.picture = rest - l.list
	return l
}

// Draw returns wide × high characters of styled text, lines parted by line feeds.
func (s *Screen) Draw(st *State, wide, high int) string {
	c := newCanvas(wide, high)
	if wide < LeastWide || high < LeastHigh {
		s.tooSmall(c, st)
		return c.text(s.Colours)
	}
	l := lay(wide, high)
	s.fit(l)
	y := 0
	s.header(c, st, y)
	y++
	for f := range s.Sides {
		s.foot(c, l, st, device.Foot(f), y)
	}
	y += 1 + l.picture
	s.share(c, l, st, y)
	y++
	if st.Stage == Pressing {
		s.pressing(c, l, st, y)
	} else {
		s.lastReleve(c, l, st, y)
	}
	y += largeRows(l.letters) + 1
	s.list(c, l, st, y)
	y += 1 + l.list
	for i := range l.says {
		if k := len(st.Says) - l.says + i; k >= 0 {
			look := usual
			if k == len(st.Says)-1 {
				look = strong
			}
			c.write(1, y+i, wide-2, look, st.Says[k])
		}
	}
	s.keys(c, st, high-2)
	return c.text(s.Colours)
}

// fit makes the platforms' pictures for a layout, on one scale of mm.
func (s *Screen) fit(l layout) {
	if s.laid == l {
		return
	}
	s.laid = l
	wide, high := l.half-2, 2*l.picture
	mm := 0.0
	for _, v := range s.Sides {
		if v != nil {
			mm = max(mm, v.scaleFor(wide, high))
		}
	}
	for f, v := range s.Sides {
		if v != nil {
			s.pictures[f] = newPicture(v, wide, high, mm)
		}
	}
}

func (s *Screen) tooSmall(c *canvas, st *State) {
	y := max(0, c.high/2-1)
	c.centre(0, y, c.wide, strong, fmt.Sprintf("make this window %d × %d or larger", LeastWide, LeastHigh))
	c.centre(0, y+1, c.wide, usual, fmt.Sprintf("it is %d × %d", c.wide, c.high))
	if st.Stage == Recording {
		c.centre(0, y+2, c.wide, usual, "the recording goes on")
	}
}

func (s *Screen) header(c *canvas, st *State, y int) {
	left := st.File
	switch st.Stage {
	case Pressing:
		left += ", not yet recording"
	case Ending:
		left += ", being finished"
	}
	var counts []string
	unit := ""
	if c.wide >= 110 {
		unit = " frames"
	}
	for f, v := range s.Sides {
		if v != nil {
			counts = append(counts, fmt.Sprintf("%s %d%s, %d lost", device.Foot(f), st.Feet[f].Frames, unit, st.Feet[f].Lost))
		}
	}
	right := strings.Join(counts, "  ")
	room := c.wide - columns(right) - 3
	if st.Stage == Recording {
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

// begins is the column in which a foot's half begins.
func (l layout) begins(f device.Foot) int {
	if f == device.Right {
		return l.right
	}
	return 0
}

// foot draws one platform under its name.
func (s *Screen) foot(c *canvas, l layout, st *State, f device.Foot, y int) {
	x := l.begins(f)
	now := st.Live.Feet[f]
	switch {
	case s.Sides[f] == nil:
		c.centre(x, y, l.half, quiet, f.String()+" foot not recorded")
		return
	case st.Feet[f].Away != "":
		s.away(c, l, st, f, y)
		return
	case now == nil || len(now.KPa) == 0:
		c.centre(x, y, l.half, quiet, f.String()+": waiting for its first frame")
		return
	}
	for _, kPa := range now.KPa {
		s.topKPa = max(s.topKPa, kPa)
	}
	title := strings.ToUpper(f.String()) + fmt.Sprintf("  %s N", plots.Number(now.LoadN, 0))
	if now.Located {
		title += fmt.Sprintf("   over %s mm", signed(now.At[1]))
	}
	look := strong
	if len(now.Doubts) > 0 {
		title = strings.ToUpper(f.String()) + "  " + now.Doubts[0]
		look = style{fore: onAlarm, back: alarm, bold: true}
	}
	c.centre(x, y, l.half, look, title)
	s.pictures[f].draw(c, x+1, y+1, now, s.top(), s.Colours)
	s.ends(c, l, f, y+1)
}

// ends names the ends of a platform whose picture begins in row y.
func (s *Screen) ends(c *canvas, l layout, f device.Foot, y int) {
	x, bottom := l.begins(f)+1, y+l.picture-1
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

// top is the end of the scale of pressure: the largest seen so far, rounded up, kPa.
func (s *Screen) top() float64 { return max(200, 200*math.Ceil(s.topKPa/200)) }

// away says in large letters that no frames come, and why.
func (s *Screen) away(c *canvas, l layout, st *State, f device.Foot, y int) {
	x := l.begins(f)
	ground := style{fore: onAlarm, back: alarm, bold: true}
	on, around := onAlarm, alarm
	if !s.Colours {
		on, around = alarm, noInk
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
	if st.Stage == Recording {
		lines = append(lines, "the recording waits for them")
	}
	for i := 0; i < len(lines) && row <= y+l.picture; i++ {
		c.centre(x+1, row, l.half-2, ground, lines[i])
		row++
	}
}

// share draws how the load is shared now.
func (s *Screen) share(c *canvas, l layout, st *State, y int) {
	if s.Sides[device.Left] == nil || s.Sides[device.Right] == nil {
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
	edge := int(math.Round(float64(wide) * left))
	for i := range wide {
		p := place{char: '━', fore: scale + 11}
		if i >= edge {
			p = place{char: '─'}
		}
		if i == wide/2 {
			p = place{char: '┃', bold: true}
		}
		c.set(ends+i, y, p)
	}
}

// pressing asks for the press that shows which strip is where.
func (s *Screen) pressing(c *canvas, l layout, st *State, y int) {
	word, text := "PRESS LEFT", "press the left platform with your hand"
	switch st.Pressed {
	case live.Both:
		text = "both platforms are loaded: step off, and press only the left one"
	case live.Held:
		word, text = "LET GO", "that is the left one: let go of it, and the recording begins"
	}
	size := largest(word, c.wide-2, l.letters)
	c.writeLarge((c.wide-size*large(word))/2, y, size, word, scale+13, noInk)
	c.centre(1, y+largeRows(l.letters), c.wide-2, strong, text)
}

// keys says what key does what, and what comes before all measuring.
func (s *Screen) keys(c *canvas, st *State, y int) {
	const care = "Pain means stop. Have a barre or a spotter."
	switch {
	case st.Noting:
		c.write(1, y, c.wide-2, strong, "note: "+ending(st.Note, c.wide-9)+"▏")
		c.write(1, y+1, c.wide-2, quiet, "Enter keeps it, Esc drops it")
		return
	case st.Stage == Pressing:
		c.write(1, y, c.wide-2, usual, "s skip the press   q stop")
	case st.Stage == Recording:
		c.write(1, y, c.wide-2, usual, "n note   d discard the last relevé   u take that back   q stop")
	}
	if st.Stop != "" {
		c.write(1, y+1, c.wide-2, style{fore: onAlarm, back: alarm, bold: true}, " "+st.Stop+" ")
		return
	}
	c.write(1, y+1, c.wide-2, strong, care)
	c.right(c.wide/2, y+1, c.wide-c.wide/2-1, quiet, fmt.Sprintf("pressure 0 to %.0f kPa", s.top()))
}
