package screen

import (
	"fmt"
	"strings"

	"aplomb/analyze/live"
	"aplomb/device"
	"aplomb/plots"
)

// signed writes mm with one decimal and always a sign.
func signed(mm float64) string {
	text := plots.Number(mm, 1)
	if mm > 0 && strings.Trim(text, "0.") != "" {
		text = "+" + text
	}
	return text
}

// words says a verdict; the shorter way where there is little room.
func words(h *live.Hold, room int) string {
	text := plots.VerdictWords(h.Verdict, h.MedialMM)
	if columns(text) > room {
		text, _, _ = strings.Cut(strings.TrimPrefix(text, "to the "), " (")
	}
	return text
}

// lastReleve shows over of the last relevé in large letters, with the verdict.
func (s *Screen) lastReleve(c *canvas, l layout, st *State, y int) {
	under := y + largeRows(l.letters)
	if len(st.Live.Releves) == 0 {
		c.centre(0, y+largeRows(l.letters)/2, c.wide, quiet, "the first relevé is waited for")
		return
	}
	one := st.Live.Releves[len(st.Live.Releves)-1]
	middle := y + largeRows(l.letters)/2
	c.centre(l.half, middle-1, spine, quiet, "no.")
	c.centre(l.half, middle, spine, strong, fmt.Sprint(one.N))
	for f, h := range one.Feet {
		if s.Sides[f] == nil {
			continue
		}
		x := l.begins(device.Foot(f))
		number, caption := "–", "was not up"
		switch now := st.Live.Feet[f]; {
		case h == nil && now != nil && now.Located:
			caption = "is up"
		case h == nil:
		case !h.Settled:
			caption = "never settled"
		default:
			number, caption = signed(h.OverMM), "mm over: "+words(h, l.half-22)
		}
		if one.Discarded {
			caption += ", discarded"
		}
		size := largest(number, l.half-2, l.letters)
		c.writeLarge(x+(l.half-size*large(number))/2, y, size, number, scale+13, noInk)
		c.centre(x, under, l.half, strong, caption)
	}
}

// list shows the last relevés, the newest on top, both feet on either side of
// their number.
func (s *Screen) list(c *canvas, l layout, st *State, y int) {
	for f, v := range s.Sides {
		if v != nil {
			c.write(l.begins(device.Foot(f))+1, y, l.half-1, quiet, head(l.half-1))
		}
	}
	all := st.Live.Releves
	for row := range min(l.list, len(all)) {
		one := all[len(all)-1-row]
		look := usual
		if row == 0 {
			look = strong
		}
		if one.Discarded {
			look = quiet
		}
		c.centre(l.half, y+1+row, spine, look, fmt.Sprint(one.N))
		for f, h := range one.Feet {
			if h != nil {
				c.write(l.begins(device.Foot(f))+1, y+1+row, l.half-1, look, line(h, one.Discarded, l.half-1))
			}
		}
	}
}

// narrow is below how many columns a relevé is written with less air.
const narrow = 48

// head is what stands over the lines of relevés.
func head(room int) string {
	if room < narrow {
		return " over share   hold provisional"
	}
	return "over mm  contact share    hold   provisional"
}

// line is one foot of one relevé in so many columns.
func line(h *live.Hold, discarded bool, room int) string {
	format := "%5s %3.0f %% %4.1f s "
	if room >= narrow {
		format = "%7s  %11.0f %%  %4.1f s   "
	}
	text := fmt.Sprintf(format, signed(h.OverMM), 100*h.ContactShare, h.HoldS)
	room -= columns(text)
	verdict := words(h, room)
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
