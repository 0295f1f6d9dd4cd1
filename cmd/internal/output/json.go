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
