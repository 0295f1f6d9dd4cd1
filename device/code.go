package device

import (
	"errors"
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// CheckCode reports why s cannot be the code or the name of a dancer, a shoe or a
// strip. A code may have slashes, quotes and letters of any script, so it must
// never be put in a path as it is.
func CheckCode(s string) error {
	switch {
	case s == "":
		return errors.New("a code is missing")
	case !utf8.ValidString(s) || !isCode(s):
		return fmt.Errorf("%.80q: a code has at most %d printable characters, and not only spaces", s, maxCode)
	}
	return nil
}

// MaxText bounds the length of a note and of other texts in free words, characters.
const MaxText = 500

// CheckLength returns an error where a text in free words is too long to be kept. Texts
// that were kept before there was a limit can be longer, and are read as they are.
func CheckLength(text string) error {
	if n := utf8.RuneCountInString(text); n > MaxText {
		return fmt.Errorf("%d characters: shorten it to %d", n, MaxText)
	}
	return nil
}

// IsControl reports whether r is a control character, or one that changes the direction
// in which the text around it is shown (the explicit directional formatting characters
// of Unicode Standard Annex 9, section 2): with one of either a text can read as another.
func IsControl(r rune) bool {
	return unicode.IsControl(r) || '\u202A' <= r && r <= '\u202E' || '\u2066' <= r && r <= '\u2069'
}

// ReadsLikeName reports whether a code reads like the name of a person: two or more
// words, each of at least two letters, that all begin with a capital.
func ReadsLikeName(code string) bool {
	words := strings.Fields(code)
	for _, w := range words {
		letters := 0
		for i, r := range w {
			switch {
			case i == 0 && !unicode.IsUpper(r):
				return false
			case unicode.IsLetter(r):
				letters++
			case !unicode.IsMark(r) && !strings.ContainsRune("-'’.,", r):
				return false
			}
		}
		if letters < 2 {
			return false
		}
	}
	return len(words) >= 2
}
