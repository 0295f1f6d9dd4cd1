package logbook

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"

	"aplomb/device"
)

// keyOf returns a code as it is compared: two codes that people would read as
// one have one key. It folds case and compatibility forms (Unicode Standard
// Annex 15, NFKC) and takes any run of spaces for one.
func keyOf(code string) string {
	// Folding makes ss of ß. It swaps the cases of Cherokee instead of joining
	// them (golang.org/x/text v0.28.0), hence up and down again. All of it can
	// undo a normal form, so it stands between two.
	folded := cases.Fold().String(norm.NFKC.String(code))
	folded = norm.NFKC.String(strings.ToLower(strings.ToUpper(folded)))
	return strings.Join(strings.Fields(folded), " ")
}

// checkCode reports what keeps code from being one of a what.
func checkCode(what, code string) error {
	err := device.CheckCode(code)
	if err == nil && keyOf(code) == "" {
		err = fmt.Errorf("%q has nothing to tell it by", code)
	}
	if err != nil {
		return invalid("%s: %v", what, err)
	}
	return nil
}

// checkText reports control characters and broken text; lines and tabs are fine.
func checkText(what, text string) error {
	odd := func(r rune) bool { return unicode.IsControl(r) && r != '\n' && r != '\t' }
	if !utf8.ValidString(text) || strings.ContainsFunc(text, odd) {
		return invalid("%s: %.40q has control characters or is no text", what, text)
	}
	return nil
}
