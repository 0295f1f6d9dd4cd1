package output

import (
	"fmt"
	"io"

	"aplomb/analyze/measure"
	"aplomb/cmd/internal/text"
	"aplomb/plots/words"
)

// Warnings prints warnings, a line each: those that may have changed the answer, then
// what was assumed, then what is for the record.
func Warnings(w io.Writer, all []measure.Warning) {
	text.Warnings(w, words.Warnings(measure.OfClass(all, measure.ChangesAnswer)))
	printRecord(w, all)
}

// printRecord prints the warnings that have not changed the answer.
func printRecord(w io.Writer, all []measure.Warning) {
	for _, said := range words.Warnings(measure.OfClass(all, measure.Assumed)) {
		fmt.Fprintln(w, "assumed:", said)
	}
	for _, said := range words.Warnings(measure.OfClass(all, measure.ForRecord)) {
		fmt.Fprintln(w, "for the record:", said)
	}
}
