package screen

import (
	"fmt"
	"strings"

	"aplomb/analyze/live"
	"aplomb/device"
	"aplomb/plots/words"
)

// verdictWithin returns the verdict of a hold, in short words where the usual ones
// take more than room columns, and with one direction where two still do.
func verdictWithin(h *live.Hold, room int) string {
	text := words.Verdict(h.Verdict, h.Misses, h.MedialMM)
	if columns(text) > room {
		text = words.ShortVerdict(h.Verdict, h.Misses, h.MedialMM)
	}
	if columns(text) > room {
		text = words.ShortVerdict(h.Verdict, nil, h.MedialMM)
	}
	return text
}

// drawLastReleve writes over of the last relevé in large letters, with the verdict.
func (s *Screen) drawLastReleve(c *canvas, l layout, st *State, y int) {
	under := y + largeRows(l.letterSize)
	if len(st.Live.Releves) == 0 {
		c.centre(0, y+largeRows(l.letterSize)/2, c.wide, quiet, "the first relevé is waited for")
		return
	}
	one := st.Live.Releves[len(st.Live.Releves)-1]
	middle := y + largeRows(l.letterSize)/2
	c.centre(l.half, middle-1, middleColumns, quiet, "no.")
	c.centre(l.half, middle, middleColumns, strong, fmt.Sprint(one.N))
	for f, h := range one.Feet {
		if s.Platforms[f] == nil {
			continue
		}
		x := l.startColumn(device.Foot(f))
		number, caption := "–", "was not up"
		switch now := st.Live.Feet[f]; {
		case h == nil && now != nil && now.Located:
			caption = "is up"
		case h == nil:
		case !h.Settled:
			caption = "never settled"
		default:
			number, caption = words.Signed(h.OverMM, 1), "mm over: "+verdictWithin(h, l.half-22)
		}
		if one.Discarded {
			caption += ", discarded"
		}
		size := largest(number, l.half-2, l.letterSize)
		c.writeLarge(x+(l.half-size*large(number))/2, y, size, number, pressureScale+13, noColour)
		c.centre(x, under, l.half, strong, caption)
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

// narrow is the number of columns below which relevés are written with less space.
const narrow = 48

// releveHead returns the heading of the list of relevés.
func releveHead(room int) string {
	if room < narrow {
		return " over share   hold provisional"
	}
	return "over mm  contact share    hold   provisional"
}

// releveText returns one foot of one relevé in at most room columns.
func releveText(h *live.Hold, discarded bool, room int) string {
	format := "%5s %3.0f %% %4.1f s "
	if room >= narrow {
		format = "%7s  %11.0f %%  %4.1f s   "
	}
	text := fmt.Sprintf(format, words.Signed(h.OverMM, 1), 100*h.ContactShare, h.HoldS)
	room -= columns(text)
	verdict := verdictWithin(h, room)
	switch {
	case !h.Settled:
		text = strings.Repeat(" ", columns(text))
		verdict = "never settled"
		if h.TouchesGap {
			verdict = "frames missing"
		}
	case h.TouchesGap && room > columns(verdict)+16:
		verdict += ", frames missing"
	case h.TouchesGap:
		verdict = "frames missing"
	}
	if discarded {
		verdict = "discarded"
	}
	return text + verdict
}
