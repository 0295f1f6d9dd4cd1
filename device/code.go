package device

import (
	"errors"
	"fmt"
	"unicode/utf8"
)

// CheckCode reports what keeps s from being a code or a name of something: of a
// dancer, a shoe, a strip. Slashes, quotes and any script are fine, so a code
// must never stand in a path as it is.
func CheckCode(s string) error {
	switch {
	case s == "":
		return errors.New("a code is missing")
	case !utf8.ValidString(s) || !isCode(s):
		return fmt.Errorf("%.80q: a code has at most %d printable characters, and not only spaces", s, maxCode)
	}
	return nil
}
