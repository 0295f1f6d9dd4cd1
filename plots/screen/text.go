package screen

import (
	"strings"
	"unicode"
)

// shown returns what stands for a character and how many columns it takes, 1 or
// 2. Characters that join with their neighbours, of which terminals differ in
// how wide they are, stand as a question mark: nothing may be wider than it is
// counted.
func shown(r rune) (rune, int) {
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

// columns is how many columns text takes.
func columns(text string) (n int) {
	for _, r := range text {
		_, wide := shown(r)
		n += wide
	}
	return n
}

// cut shortens text with … to at most so many columns.
func cut(text string, most int) string {
	if columns(text) <= most {
		return text
	}
	n := 0
	for i, r := range text {
		_, wide := shown(r)
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

// ending returns the last part of text that takes at most so many columns.
func ending(text string, most int) string {
	r := []rune(text)
	for len(r) > 0 && columns(string(r)) > most {
		r = r[1:]
	}
	return string(r)
}

// wrap breaks text between words into lines of so many columns.
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
