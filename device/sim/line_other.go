//go:build !unix

package sim

import "errors"

// Line is a serial line to this process. These systems have none.
type Line struct{}

var errNoLine = errors.New("no pseudo-terminals on this system: use Linux or macOS")

// OpenLine returns an error.
func OpenLine(link string) (*Line, error) { return nil, errNoLine }

// Path returns "".
func (l *Line) Path() string { return "" }

// Send returns an error.
func (l *Line) Send(packet []byte) error { return errNoLine }

// Dropped returns 0.
func (l *Line) Dropped() int { return 0 }

// Close does nothing.
func (l *Line) Close() error { return nil }
