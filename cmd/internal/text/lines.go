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
