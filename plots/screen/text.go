package screen

import (
	"strings"
	"unicode"
)

// displayRune returns the character that is displayed for r, and the number of
// columns that it takes, 1 or 2. It is a question mark for characters that combine
// with their neighbours or whose width differs between terminals, so that no text
// is wider than its count of columns.
func displayRune(r rune) (rune, int) {
	switch {
	case unicode.In(r, unicode.Han, unicode.Hiragana) && r > 0x3040 && unicode.IsLetter(r) && !unicode.Is(unicode.Lm, r),
		0x30A1 <= r && r <= 0x30FA, // Katakana
		0xAC00 <= r && r <= 0xD7A3: // Hangul syllables
		return r, 2
	case !unicode.IsPrint(r), unicode.Is(unicode.M, r):
	case r < 0x250, // Latin
		0x370 <= r && r < 0x530,   // Greek, Cyrillic
		0x1E00 <= r && r < 0x2000, // more of them
		0x2010 <= r && r < 0x2028, 0x2030 <= r && r < 0x203C, r == '€',
		r == '‹', r == '›', r == '−', r == '·', r == '→', r == '←',
		0x2500 <= r && r < 0x25A0: // lines and blocks
		return r, 1
	}
	return '?', 1
}

// columns returns the number of columns that text takes.
func columns(text string) (n int) {
	for _, r := range text {
		_, wide := displayRune(r)
		n += wide
	}
	return n
}

// cut replaces the end of text by an ellipsis where it takes more than most columns.
func cut(text string, most int) string {
	if columns(text) <= most {
		return text
	}
	n := 0
	for i, r := range text {
		_, wide := displayRune(r)
		if n+wide > most-1 {
			if most < 1 {
				return ""
			}
			return text[:i] + "…"
		}
		n += wide
	}
	return text
}

// ending returns the longest end of text that takes at most most columns.
func ending(text string, most int) string {
	r := []rune(text)
	for len(r) > 0 && columns(string(r)) > most {
		r = r[1:]
	}
	return string(r)
}

// wrap breaks text between words into lines of at most wide columns. A longer word
// is a line of its own.
func wrap(text string, wide int) (lines []string) {
	line := ""
	for word := range strings.FieldsSeq(text) {
		switch {
		case line == "":
			line = word
		case columns(line)+1+columns(word) <= wide:
			line += " " + word
		default:
			lines, line = append(lines, line), word
		}
	}
	return append(lines, line)
}
