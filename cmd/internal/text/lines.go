package text

import (
	"fmt"
	"io"
	"strings"
	"unicode"
)

// Warnings prints warnings, a line each.
func Warnings(w io.Writer, warnings []string) {
	for _, text := range warnings {
		fmt.Fprintln(w, "warning:", text)
	}
}

// ReadsLikeName says that the code of a dancer reads like a name, and what to do.
func ReadsLikeName(code string) string {
	return fmt.Sprintf("dancer %q reads like a name: recordings and sheets carry it; a code such as D7 tells nobody who it is", code)
}

// Quoted returns a code as it is typed in a shell.
func Quoted(code string) string {
	odd := func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r) && !strings.ContainsRune("-_./", r)
	}
	if !strings.ContainsFunc(code, odd) {
		return code
	}
	return "'" + strings.ReplaceAll(code, "'", `'\''`) + "'"
}
