package output

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/text"
	"aplomb/plots/words"
)

// Contents prints the contents of the logbook, and its backups.
func Contents(w io.Writer, l *logbook.Logbook) error {
	h, err := l.Contents()
	if err != nil {
		return err
	}
	text.Facts(w, "holds", ContentsLine(h), "size", fmt.Sprintf("%.1f MB of recordings", float64(h.Bytes)/1e6))
	backups, err := l.Backups()
	if err != nil {
		return err
	}
	backups = slices.DeleteFunc(backups, func(b logbook.Backup) bool {
		return b.State == logbook.BackupUnfinished || b.State == logbook.BackupRunning
	})
	said := "none"
	if n := len(backups); n > 0 {
		last := backups[n-1]
		said = fmt.Sprintf("%d, the last one on %s in %s", n, last.Made.Local().Format(time.DateOnly), last.Path)
	}
	text.Facts(w, "backups", said)
	return nil
}

// ContentsLine returns in one line the number of items of each kind in the logbook.
func ContentsLine(h logbook.Contents) string {
	all := []string{
		words.Count(h.Dancers, "dancer", "dancers"), words.Count(h.Visits, "visit", "visits"), words.Count(h.Shoes, "shoe", "shoes"),
		words.Count(h.Strips, "strip", "strips"), words.Count(h.Recordings, "recording", "recordings"),
	}
	if h.StripChecks > 0 {
		all = append(all, words.Count(h.StripChecks, "check of a strip", "checks of strips"))
	}
	if h.Agreements > 0 {
		all = append(all, words.Count(h.Agreements, "agreement with a reference", "agreements with references"))
	}
	return strings.Join(all, ", ")
}

// Rebuilt prints the contents of a rebuilt logbook, the data lost, and the recordings
// left out.
func Rebuilt(w io.Writer, dir string, r logbook.Rebuilt) {
	if r.Merged {
		fmt.Fprintf(w, "%s: the database is whole and stays; %s taken in that %s in no visit\nit holds %s\n", dir,
			words.Count(r.TakenIn, "recording", "recordings"), wasWere(r.TakenIn), ContentsLine(r.Contents))
	} else {
		fmt.Fprintf(w, "%s rebuilt: %s\n", dir, ContentsLine(r.Contents))
	}
	if r.Aside != "" {
		fmt.Fprintf(w, "the database before is set aside as %s\n", r.Aside)
	}
	if len(r.Lost) > 0 {
		fmt.Fprintln(w, "\nlost, as no recording carries it:")
		for _, what := range r.Lost {
			fmt.Fprintln(w, text.Item("  - ", what))
		}
	}
	printNewNumbers(w, r)
	if len(r.Skipped) > 0 {
		fmt.Fprintln(w, "\nnot taken in:")
		for _, f := range r.Skipped {
			fmt.Fprintf(w, "  - %s\n", f)
		}
	}
}

func wasWere(n int) string {
	if n == 1 {
		return "was"
	}
	return "were"
}

// printNewNumbers prints which recordings have other numbers than before.
func printNewNumbers(w io.Writer, r logbook.Rebuilt) {
	if len(r.Renumbered) > 0 {
		fmt.Fprintln(w, "\nother numbers than before (a number that two recordings had is given to neither):")
		var rows [][]string
		for _, n := range r.Renumbered {
			before, note := "not known", ""
			if n.Before > 0 {
				before = strconv.FormatInt(n.Before, 10)
			}
			if n.Unwritten != nil {
				note = "its file does not carry the number"
			}
			rows = append(rows, []string{strconv.FormatInt(n.Number, 10), before, n.Dancer, n.Started.Local().Format("2006-01-02 15:04"), n.Identity, note})
		}
		text.Table(w, []string{"now", "before", "dancer", "recorded", "id", ""}, rows)
	}
	if r.GoesOn > 0 {
		fmt.Fprintln(w, text.Wrap(fmt.Sprintf("\nThe next recording is %d: the numbers before it may have been those of recordings that were erased.", r.GoesOn)))
	}
}
