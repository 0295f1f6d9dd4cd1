package output

import (
	"encoding/json"
	"io"
)

// JSON writes v as one line.
func JSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	return e.Encode(v)
}

// Failure is the JSON object of a recording that could not be read or measured.
type Failure struct {
	Error string `json:"error"`
	File  string `json:"file"` // its name, or its number in the logbook
}
