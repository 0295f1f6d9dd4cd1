package output

import (
	"fmt"
	"io"

	"aplomb/cmd/internal/text"
)

// Checked writes plain text and stores the first error, so that a command whose results
// could not be written, for example to a full disk, fails.
type Checked struct {
	to  io.Writer
	err error
}

// NewChecked returns a writer to to.
func NewChecked(to io.Writer) *Checked { return &Checked{to: to} }

// Beneath returns the writer that w writes to where w is a Checked, and otherwise w.
// It is for output that is not plain text, and to look at what it goes to; the caller
// checks the errors of its writes.
func Beneath(w io.Writer) io.Writer {
	if c, ok := w.(*Checked); ok {
		return c.to
	}
	return w
}

// Err returns the first error of a Write.
func (c *Checked) Err() error { return c.err }

// Write implements io.Writer.
func (c *Checked) Write(b []byte) (int, error) {
	if _, err := io.WriteString(c.to, text.Plain(string(b))); err != nil {
		if c.err == nil {
			c.err = fmt.Errorf("the results could not be written: %w", err)
		}
		return 0, err
	}
	return len(b), nil
}
