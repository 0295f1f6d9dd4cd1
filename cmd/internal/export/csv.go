package export

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strconv"

	"aplomb/analyze/dataset"
)

// encoders has the function that writes a table in each format.
var encoders = map[string]func(io.Writer, dataset.Table) error{"csv": CSV, "parquet": writeParquet}

// Formats returns the names of the formats of tables.
func Formats() []string { return []string{"csv", "parquet"} }

// CSV writes a table according to RFC 4180 with one line of headings, in UTF-8, with
// lines ending in LF. An absent value is empty. A number has as many digits as are needed
// to read the same number back.
func CSV(w io.Writer, t dataset.Table) error {
	var all bytes.Buffer // written at once: a writer of plain text cannot read half a character
	c := csv.NewWriter(&all)
	row := make([]string, len(t.Fields))
	for i, f := range t.Fields {
		row[i] = f.Name
	}
	if err := c.Write(row); err != nil {
		return err
	}
	for _, values := range t.Rows {
		for i, v := range values {
			row[i] = cell(v)
		}
		if err := c.Write(row); err != nil {
			return err
		}
	}
	c.Flush()
	_, err := w.Write(all.Bytes())
	return err
}

// cell writes one value as text.
func cell(v any) string {
	switch v := v.(type) {
	case nil:
		return ""
	case string:
		return v
	case float64:
		return strconv.FormatFloat(v, 'g', -1, 64)
	}
	return fmt.Sprint(v)
}

// isSPDX reports whether s has the form of an identifier of the SPDX licence list.
func isSPDX(s string) bool {
	return !slices.ContainsFunc([]rune(s), func(r rune) bool {
		return !('a' <= r && r <= 'z' || 'A' <= r && r <= 'Z' || '0' <= r && r <= '9' || r == '-' || r == '.')
	})
}
