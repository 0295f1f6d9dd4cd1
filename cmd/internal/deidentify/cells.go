package deidentify

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/text"
	"aplomb/device"
)

// smallest is the number of dancers from which a group is no longer small: k of
// k-anonymity (Sweeney, k-anonymity: a model for protecting privacy, International
// Journal of Uncertainty, Fuzziness and Knowledge-Based Systems 10, 2002, 557-570). Its
// value is our own choice.
const smallest = 5

// Cell is a group of dancers with equal values of attributes that others may know.
type Cell struct {
	Alike   string // such as "age 15-19"
	Dancers int
}

// Report lists what a de-identified package still reveals about its dancers.
type Report struct {
	Words   bool   // notes and free words were kept
	Dancers int    // in the package
	Single  []Cell // small groups by one attribute alone
	All     []Cell // small groups by all attributes together
}

// attribute is a property of a dancer that others may know: a quasi-identifier (NISTIR
// 8053).
type attribute struct{ name, value string }

// attributesOf returns the attributes of a dancer that are known.
func attributesOf(d logbook.Dancer, age string, kg float64) (all []attribute) {
	add := func(name, value string) {
		if value != "" && value != "0" {
			all = append(all, attribute{name, value})
		}
	}
	add("age", age)
	if d.PointeYears != nil {
		all = append(all, attribute{"years on pointe", text.Trimmed(*d.PointeYears)})
	}
	add("watched side", d.Watched)
	for _, f := range device.Feet {
		foot := d.Feet[f]
		add(f.String()+" toes", foot.ToeShape)
		add(f.String()+" longest toe", fmt.Sprint(foot.LongestToe))
		add(f.String()+" width", foot.Width)
		add(f.String()+" compressibility", foot.Compressibility)
	}
	if kg > 0 {
		add("body mass", text.Trimmed(kg)+" kg")
	}
	return all
}

// report counts the dancers of the package with equal attributes.
func (d *deidentifier) report() Report {
	dancers := map[string]logbook.Dancer{}
	kg := map[string]float64{}
	for i := range d.originals {
		if o := &d.originals[i]; o.written {
			code := d.codes.of("dancer", o.meta.Dancer)
			dancers[code] = logbook.Dancer{Code: code}
			kg[code] = cmp.Or(kg[code], mass(o.meta.MassKG))
		}
	}
	for _, one := range d.Kept.Dancers {
		if _, ok := dancers[one.Code]; ok {
			dancers[one.Code] = one
		}
	}
	for _, v := range d.Kept.Visits {
		kg[v.Dancer] = cmp.Or(kg[v.Dancer], v.MassKG)
	}
	single, all := map[string]int{}, map[string]int{}
	for code, one := range dancers {
		var alike []string
		for _, a := range attributesOf(one, d.AgeBands[code], kg[code]) {
			alike = append(alike, a.name+" "+a.value)
			single[a.name+" "+a.value]++
		}
		all[cmp.Or(strings.Join(alike, ", "), "nothing known")]++
	}
	return Report{d.words, len(dancers), small(single), small(all)}
}

// small returns the groups of fewer than smallest, the smallest first.
func small(groups map[string]int) (cells []Cell) {
	for _, alike := range slices.Sorted(maps.Keys(groups)) {
		if n := groups[alike]; n < smallest {
			cells = append(cells, Cell{alike, n})
		}
	}
	slices.SortStableFunc(cells, func(a, b Cell) int { return cmp.Compare(a.Dancers, b.Dancers) })
	return cells
}

// dancersIn returns the number of dancers in some groups.
func dancersIn(cells []Cell) (n int) {
	for _, c := range cells {
		n += c.Dancers
	}
	return n
}
