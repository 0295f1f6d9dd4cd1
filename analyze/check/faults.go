package check

import (
	"fmt"
	"slices"
	"strings"

	"aplomb/analyze/cells"
	"aplomb/analyze/measure"
)

// A fault of cells is grave where it moves the centre of pressure by a quarter of the
// default standard deviation of the seat (1 mm), which increases its uncertainty by 3 %,
// or affects a share of the load that is a third of the default gain error (3 %). These
// limits are our own choice.
const (
	graveMM        = 0.25
	graveShare     = 0.01
	graveSaturated = 0.01 // share of the frames under load
)

// checkCells adds one finding for each kind of fault of the cells.
func (r *Report) checkCells(l *footCheck, measured int, result *measure.Result) {
	all := l.cells.Faults()
	if result != nil && result.Unloaded[l.foot] {
		// The monitor takes large zeros for a load. The analysis of the whole recording
		// distinguishes them: the load rises from the zeros and returns to them.
		all = slices.DeleteFunc(all, func(f cells.Fault) bool { return f.Kind == cells.NeverAtRest && f.SinceS == 0 })
	}
	for len(all) > 0 {
		n := 1
		for n < len(all) && all[n].Kind == all[0].Kind {
			n++
		}
		r.add(grouped(l, all[:n], measured))
		all = all[n:]
	}
}

// grouped returns one finding for the faults of one kind.
func grouped(l *footCheck, group []cells.Fault, measured int) Finding {
	kind, name := group[0].Kind, l.foot.String()
	f := Finding{About: name, Kind: Kind(kind), Text: group[0].Text}
	since, share := group[0].SinceS, 0.0
	load, shift, inside := 0.0, 0.0, 0.0
	for _, one := range group {
		since, share = min(since, one.SinceS), max(share, one.Share)
		load, shift = load+one.LoadShare, shift+one.ShiftMM
		if one.Cell != cells.WholeStrip {
			f.Cells = append(f.Cells, one.Cell)
			inside = max(inside, l.cells.Inside(one.Cell))
		}
	}
	f.SinceS = &since
	if share > 0 {
		f.Share = &share
	}
	if len(f.Cells) > 0 {
		f.Text = cellFaultText(kind, f.Cells, group[0].Text, l)
	}
	f.Means, f.Grave = meaning(kind, name, faultEffect{load, shift, share, inside}, measured)
	return f
}

// faultEffect is the combined effect of the faults of one kind, an upper limit.
type faultEffect struct {
	load   float64 // misread share of the load, 0 to 1
	shift  float64 // of the centre of pressure, mm
	share  float64 // largest cells.Fault.Share
	inside float64 // largest fraction of a cell inside the outline
}

func (e faultEffect) matters() bool { return e.load >= graveShare || e.shift >= graveMM }

// meaning returns the consequences of faults of one kind for the measures of a foot, and
// whether they are grave. measured is the number of measured relevés.
func meaning(kind cells.FaultKind, foot string, e faultEffect, measured int) (means string, grave bool) {
	unsure := func(what string) string { return fmt.Sprintf("%s of the %s foot cannot be trusted", what, foot) }
	switch kind {
	case cells.Dead, cells.Stuck:
		if e.inside < 0.01 {
			return "beside the platform, so no measure misses them", false
		}
		if e.load == 0 {
			return unsure("contact share and load") + ": load there is not measured", true
		}
		return fmt.Sprintf("%.0f %% of the load is not measured, which would move over and medial by up to %.1f mm: analyze fills it from the other cells where it can, and says how sure that is", 100*e.load, e.shift), true
	case cells.StuckBit:
		if e.matters() {
			return unsure("over, medial and load") + fmt.Sprintf(": off by up to %.1f mm and %.0f %%", e.shift, 100*e.load), true
		}
		return fmt.Sprintf("over and medial are off by up to %.2f mm", e.shift), false
	case cells.Loose:
		return unsure("sway, load and contact share"), true
	case cells.Saturated:
		return "load and peak pressure are lower bounds, and over and medial are shifted away from there", e.share >= graveSaturated
	case cells.Crosstalk:
		return unsure("contact share, load, over and medial") + ": current takes the way round through other cells, or the platform is larger than its outline", true
	case cells.NeverAtRest:
		return unsure("load, over and medial") + ": let the strip rest before the first relevé and between them", measured > 0
	case cells.Drifting:
		return unsure("load, over and medial") + ": a hold may be off by as much", true
	case cells.Noisy:
		if e.matters() {
			return unsure("sway") + fmt.Sprintf(": %.2f mm of it is noise", e.shift), true
		}
		return fmt.Sprintf("it adds %.2f mm to sway", e.shift), false
	case cells.Offset:
		return "less range remains for load: it saturates early", false
	case cells.Silent:
		return fmt.Sprintf("dead, or not touched: press on it to tell. If dead, load reads %.0f %% low and over and medial are off by up to %.1f mm", 100*e.load, e.shift), false
	case cells.Coarse:
		return "small loads and the edge of contact are rough", false
	case cells.NeverLoaded:
		return "nothing is known of its cells", false
	}
	return "", false
}

// nouns are the words for cells with a fault.
var nouns = map[cells.FaultKind]string{
	cells.Dead: "dead", cells.Silent: "silent", cells.Stuck: "stuck", cells.StuckBit: "with a stuck digit",
	cells.Loose: "loose", cells.Noisy: "noisy", cells.Saturated: "saturated", cells.Offset: "with a large offset",
}

// cellFaultText names the cells with one kind of fault; text describes the first.
func cellFaultText(kind cells.FaultKind, group []cells.Cell, text string, l *footCheck) string {
	where := places(group, l.side.Strip.Rows, l.side.Strip.Cols)
	if len(group) == 1 {
		return fmt.Sprintf("cell %s: %s: %s", nouns[kind], where, text)
	}
	return fmt.Sprintf("%d cells %s: %s", len(group), nouns[kind], where)
}

// placesShown is the largest number of rows named; further cells are counted only.
const placesShown = 5

// places names cells, and whole columns and rows as such, counted from 1 from the
// back and from the little-toe side.
func places(group []cells.Cell, rows, cols int) string {
	has := func(row, col int) bool { return slices.Contains(group, cells.Cell{Row: row, Col: col}) }
	var said []string
	whole := make([]bool, cols)
	for col := range cols {
		whole[col] = rows > 1
		for row := 0; row < rows && whole[col]; row++ {
			whole[col] = has(row, col)
		}
		if whole[col] {
			said = append(said, fmt.Sprintf("all of column %d", col+1))
		}
	}
	rest := 0
	for row := range rows {
		var in []string
		n := 0
		for col := range cols {
			if has(row, col) {
				n++
				if !whole[col] {
					in = append(in, fmt.Sprint(col+1))
				}
			}
		}
		switch {
		case len(in) == 0:
		case len(said) >= placesShown:
			rest += len(in)
		case n == cols && cols > 1:
			said = append(said, fmt.Sprintf("all of row %d", row+1))
		case len(in) == 1:
			said = append(said, fmt.Sprintf("row %d, column %s", row+1, in[0]))
		default:
			said = append(said, fmt.Sprintf("row %d, columns %s", row+1, strings.Join(in, " ")))
		}
	}
	if rest > 0 {
		said = append(said, fmt.Sprintf("and %d more", rest))
	}
	return strings.Join(said, "; ")
}
