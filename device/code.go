package device

import (
	"errors"
	"fmt"
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
