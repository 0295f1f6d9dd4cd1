package logbook

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"

	"aplomb/device"
)

// keyOf returns the key by which codes are compared. Codes that people would read as the
// same have one key: case and compatibility forms (Unicode Standard Annex 15, NFKC) are
// folded, and any run of spaces counts as one.
func keyOf(code string) string {
	// Folding replaces ß by ss. It swaps the cases of Cherokee instead of joining them
	// (golang.org/x/text v0.28.0), which is why upper and lower case follow. Each step
	// can undo the normal form, which is why it is applied twice.
	folded := cases.Fold().String(norm.NFKC.String(code))
	folded = norm.NFKC.String(strings.ToLower(strings.ToUpper(folded)))
	return strings.Join(strings.Fields(folded), " ")
}

// checkCode returns an error where code cannot be the code of a what, such as a
// shoe.
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

// checkText returns an error where text has control characters other than line
// breaks and tabs, or is not UTF-8.
func checkText(what, text string) error {
	odd := func(r rune) bool { return device.IsControl(r) && r != '\n' && r != '\t' }
	if !utf8.ValidString(text) || strings.ContainsFunc(text, odd) {
		return invalid("%s: %.40q has control characters or is no text", what, text)
	}
	return nil
}
