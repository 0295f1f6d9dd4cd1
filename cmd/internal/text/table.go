// Package text formats the output of commands, and parses typed numbers and words.
package text

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
	"time"
	"unicode"
	"unicode/utf8"

	"aplomb/device"
	"aplomb/plots/words"
)

// Table prints rows under headings, in columns that are aligned on the left.
func Table(w io.Writer, headings []string, rows [][]string) {
	var b strings.Builder
	t := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	for _, row := range append([][]string{headings}, rows...) {
		for i, cell := range row {
			row[i] = strings.NewReplacer("\n", " ", "\t", " ").Replace(cell)
		}
		fmt.Fprintln(t, strings.Join(row, "\t"))
	}
	t.Flush()
	for line := range strings.Lines(b.String()) {
		fmt.Fprintln(w, strings.TrimRight(line, " \n")) // empty cells at the end of a row leave blanks
	}
}

// Facts prints pairs of a name and a value, a line each; a value that is "" is left
// out. Further lines of a value stand under its first.
func Facts(w io.Writer, pairs ...string) {
	for i := 0; i+1 < len(pairs); i += 2 {
		if pairs[i+1] != "" {
			fmt.Fprintf(w, "  %-16s %s\n", pairs[i], strings.ReplaceAll(pairs[i+1], "\n", "\n"+strings.Repeat(" ", 19)))
		}
	}
}

// Known writes a number with its unit, "" for 0.
func Known(v float64, unit string) string {
	if v == 0 {
		return ""
	}
	return strings.TrimSpace(Trimmed(v) + " " + unit)
}

// Trimmed writes a number with two decimals at most and no needless zero.
func Trimmed(v float64) string {
	return words.Trimmed(v, 2)
}

// lineWidth is the length of the longest line, in characters.
const lineWidth = 80

// Wrap breaks text into lines of 80 characters at most.
func Wrap(text string) string { return wrapTo(text, lineWidth) }

func wrapTo(text string, width int) string {
	var b strings.Builder
	column := 0
	words := strings.Fields(text)
	for i, word := range words {
		n := utf8.RuneCountInString(word)
		room := n
		if i+1 < len(words) && strings.HasPrefix(words[i+1], "%") { // stays with its number
			room += 1 + utf8.RuneCountInString(words[i+1])
		}
		switch {
		case column == 0:
		case column+1+room > width:
			b.WriteByte('\n')
			column = 0
		default:
			b.WriteByte(' ')
			column++
		}
		b.WriteString(word)
		column += n
	}
	return b.String()
}

// Indent wraps text and begins every line with by. A line has 80 characters with that.
func Indent(text, by string) string {
	return by + strings.ReplaceAll(wrapTo(text, lineWidth-utf8.RuneCountInString(by)), "\n", "\n"+by)
}

// Item wraps text as an item of a list, behind its mark.
func Item(mark, text string) string {
	by := strings.Repeat(" ", utf8.RuneCountInString(mark))
	return mark + strings.TrimPrefix(Indent(text, by), by)
}

// Plain replaces control characters, because a terminal would execute them, and texts may
// come from other people's files.
func Plain(text string) string {
	return strings.Map(func(r rune) rune {
		if device.IsControl(r) && r != '\n' && r != '\t' {
			return unicode.ReplacementChar
		}
		return r
	}, text)
}

// Columns returns a writer of columns that are aligned on the right. The text after
// the last tab of a line is no cell and is not aligned.
func Columns(out io.Writer) *tabwriter.Writer {
	return tabwriter.NewWriter(out, 0, 0, 2, ' ', tabwriter.AlignRight)
}

// Percent writes a fraction in per cent with a number of decimals.
func Percent(fraction float64, decimals int) string {
	return words.Number(100*fraction, decimals) + " %"
}

// Clock writes a length of time as minutes and seconds, such as 1:05.
func Clock(d time.Duration) string {
	s := int(d.Round(time.Second).Seconds())
	return fmt.Sprintf("%d:%02d", s/60, s%60)
}

// Either joins words by commas and "or".
func Either(words ...string) string {
	last := len(words) - 1
	return strings.Join(words[:last], ", ") + " or " + words[last]
}
