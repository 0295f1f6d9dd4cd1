package main

import (
	"io"

	"aplomb/device/logbook"
)

// tellNext says what the plan of a visit has next; nothing where there is none.
func tellNext(w io.Writer, l *logbook.Logbook, v logbook.Visit) error { return nil }
