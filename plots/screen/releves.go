package screen

import (
	"fmt"
	"strings"

	"aplomb/analyze/live"
	"aplomb/device"
	"aplomb/plots/words"
)

// drawWords writes in large letters where the load of each foot sits. While neither foot
// carries load it writes the number of counted relevés and, once there are enough, that
// the recording is done.
func (s *Screen) drawWords(c *canvas, l layout, st *State, y int) {
	up := s.places[device.Left].Verdict != "" || s.places[device.Right].Verdict != ""
	switch {
	case up:
	case st.Planned > 0 && st.Enough:
		c.writeLarge(0, y, c.wide, l.letters, "DONE")
		return
	case len(st.Live.Releves) == 0 && st.Planned == 0:
		c.centre(0, y+l.letters/2, c.wide, quiet, "waiting for the first relevé")
		return
	}
	for f, v := range s.Platforms {
		x := l.startColumn(device.Foot(f))
		switch p := s.places[f]; {
		case v == nil:
		case p.Verdict != "":
			lines := words.LargeLines(p.Verdict, p.Misses, st.Live.Feet[f].At[0])
			if len(lines) == 2 {
				lines[0] += " +"
			}
			c.writeLarge(x, y, l.half, l.letters, lines...)
		case up:
		case st.Planned > 0:
			c.writeLarge(x, y, l.half, l.letters-1, fmt.Sprintf("%d OF %d", st.Counted[f], st.Planned))
		default:
			c.writeLarge(x, y, l.half, l.letters-1, fmt.Sprint(st.Counted[f]))
		}
	}
	if !up {
		c.centre(0, y+l.letters-1, c.wide, quiet, "relevés that count")
	}
}

// drawList writes the last relevés, the newest at the top, each with its number
// between its two feet.
func (s *Screen) drawList(c *canvas, l layout, st *State, y int) {
	for f, v := range s.Platforms {
		if v != nil {
			c.write(l.startColumn(device.Foot(f))+1, y, l.half-1, quiet, releveHead(l.half-1))
		}
	}
	c.centre(0, y, c.wide-4, quiet, "provisional") // of both feet, between their headings
	all := st.Live.Releves
	for row := range min(l.list, len(all)) {
		one := all[len(all)-1-row]
		textStyle := usual
		if row == 0 {
			textStyle = strong
		}
		if one.Discarded {
			textStyle = quiet
		}
		c.centre(l.half, y+1+row, middleColumns, textStyle, fmt.Sprint(one.N))
		for f, h := range one.Feet {
			if h != nil {
				c.write(l.startColumn(device.Foot(f))+1, y+1+row, l.half-1, textStyle, releveText(h, one.Discarded, l.half-1))
			}
		}
	}
}

// narrow is the number of columns below which relevés are written more compactly.
const narrow = 48

// releveHead returns the heading of the list of relevés.
func releveHead(room int) string {
	if room < narrow {
		return " over share   hold"
	}
	return "over mm  contact share    hold"
}

// releveText returns one foot of one relevé in at most room columns, without the time of
// the hold where the verdict needs the space.
func releveText(h *live.Hold, discarded bool, room int) string {
	text := fmt.Sprintf("%5s %3.0f %% %4.1f s ", words.Signed(h.OverMM, 1), 100*h.ContactShare, h.HoldS)
	if room >= narrow {
		text = fmt.Sprintf("%7s  %11.0f %%  %4.1f s   ", words.Signed(h.OverMM, 1), 100*h.ContactShare, h.HoldS)
	}
	verdict := words.LargeVerdict(h.Verdict, h.Misses, h.MedialMM)
	left := room - columns(text)
	switch {
	case !h.Settled && h.TouchesGap:
		text, verdict = strings.Repeat(" ", columns(text)), "frames missing"
	case !h.Settled:
		text, verdict = strings.Repeat(" ", columns(text)), "never settled"
	case h.TouchesGap && left > columns(verdict)+16:
		verdict += ", frames missing"
	case h.TouchesGap:
		verdict = "frames missing"
	case columns(verdict) > left:
		text = fmt.Sprintf("%5s %3.0f %% ", words.Signed(h.OverMM, 1), 100*h.ContactShare)
	}
	if discarded {
		verdict = "discarded"
	}
	return text + verdict
}
