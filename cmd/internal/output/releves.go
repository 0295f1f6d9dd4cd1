package output

import (
	"fmt"
	"io"
	"strconv"
	"strings"
	"text/tabwriter"

	"aplomb/analyze/measure"
	"aplomb/cmd/internal/text"
	"aplomb/device"
	"aplomb/plots/words"
)

// Result prints the relevés of a recording, and warnings.
func Result(w io.Writer, title string, r *measure.Result) {
	fmt.Fprintln(w, title)
	if len(r.Releves) == 0 {
		fmt.Fprintln(w, "no relevé in it")
	} else {
		printReleves(w, r.Releves)
	}
	Seats(w, []*measure.Result{r})
	Warnings(w, r.Warnings)
	printDoubts(w, r.Releves)
	for _, note := range r.Notes {
		fmt.Fprintln(w, text.Wrap("note, "+words.Note(note)))
	}
	if r.Remark != nil {
		fmt.Fprintln(w, text.Wrap("said after it: "+words.Remark(*r.Remark)))
	}
}

// Seats prints the seats of the strips in recordings, by foot and, where there are
// several, by file.
func Seats(w io.Writer, results []*measure.Result) {
	for _, r := range results {
		for _, f := range device.Feet {
			if s, side := r.Seats.Of(f), r.Meta.Sides[f]; s != nil && side != nil {
				name := f.String()
				if len(results) > 1 {
					name = r.Recording.File + ", " + name
				}
				fmt.Fprintln(w, text.Wrap(fmt.Sprintf("%s: strip %s %s", name, side.Strip.Name, words.Seat(s, side.Strip.Mount))))
			}
		}
	}
}

func printReleves(w io.Writer, releves []measure.Releve) {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	// Text after the last tab is not a cell, so it stays on the left.
	fmt.Fprintln(t, "n\tfoot\tstart s\thold s\tload N\tover mm\tmedial mm\tcontact\tload share, left\t  verdict")
	for _, one := range releves {
		fmt.Fprintf(t, "%d\t%s\t%.2f\t", one.N, one.Foot, one.StartS)
		if one.Status != measure.Measured {
			fmt.Fprintf(t, "\t\t\t\t\t\t  %s\n", one.Status)
			continue
		}
		share := ""
		if one.LoadShare != nil {
			share = fmt.Sprintf("%.2f", *one.LoadShare)
		}
		fmt.Fprintf(t, "%.2f\t%.0f\t%s ± %s\t%s ± %s\t%s\t%s\t  %s\n", one.HoldS, one.LoadN,
			words.Number(one.OverMM, 1), words.Number(words.HalfWidth(one.UOverMM, one.DOFOver), 1),
			words.Number(one.MedialMM, 1), words.Number(words.HalfWidth(one.UMedialMM, one.DOFMedial), 1),
			words.Contact(one.ContactShare, &one.ContactCI95), share, verdict(&one))
	}
	t.Flush()
	fmt.Fprintln(w, "± is the half-width of the 95 % interval of the relevé, the seat of the strip included; contact has both ends of it")
}

// verdict returns the verdict of a relevé in words, and whether it was discarded.
func verdict(one *measure.Releve) string {
	text := words.Verdict(one.Verdict, one.Misses, one.MedialMM)
	if one.Discarded {
		text += ", discarded"
	}
	return text
}

// printDoubts prints the warnings of single relevés, each once with the relevés that
// have it.
func printDoubts(w io.Writer, releves []measure.Releve) {
	type doubt struct {
		text string
		foot device.Foot
	}
	about := map[doubt][]string{}
	var order []doubt
	for _, one := range releves {
		for _, text := range words.Warnings(one.Warnings) {
			d := doubt{text, one.Foot}
			if about[d] == nil {
				order = append(order, d)
			}
			about[d] = append(about[d], strconv.Itoa(one.N))
		}
	}
	for _, d := range order {
		fmt.Fprintf(w, "%s, relevé %s: %s\n", d.foot, strings.Join(about[d], ", "), d.text)
	}
}
