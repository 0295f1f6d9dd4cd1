package device

import (
	"fmt"
	"reflect"
	"strings"
)

// Rewrite returns the strip profile in data with the calibration and the mount of s.
// Everything else stays as it was written, comments included; the lines of keys
// that s no longer has are removed. Errors name the file as name.
//
// It refuses a profile in which [calibration] or [mount] is not a table with each
// key on a line of its own, and a profile that differs from s elsewhere.
func Rewrite(name string, data []byte, s *Strip) ([]byte, error) {
	before, err := ParseStrip(name, data)
	if err != nil {
		return nil, err
	}
	if err := s.Check(); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	text := string(data)
	text = rewriteTable(text, "calibration", keyValues(before.Calibration), keyValues(s.Calibration), s.scanWidth())
	text = rewriteTable(text, "mount", keyValues(before.Mount), keyValues(s.Mount), s.scanWidth())
	after, err := ParseStrip(name, []byte(text))
	if err != nil || !reflect.DeepEqual(after, s) {
		return nil, fmt.Errorf("%s: it is written in a way that cannot be kept up: write [calibration] and [mount] as aplomb guide files shows, each key on a line of its own", name)
	}
	return []byte(text), nil
}

// scanWidth returns the number of cells in one row or column of the scan.
func (s *Strip) scanWidth() int {
	if s.Scan == "columns" {
		return s.Rows
	}
	return s.Cols
}

// keyValue is a key of a profile and its value in TOML.
type keyValue struct{ key, value string }

// keyValues lists the keys of a table that has no tables in it, in the order of its
// fields.
func keyValues(table any) (all []keyValue) {
	for line := range strings.Lines(TOML(table)) {
		if key, value, ok := strings.Cut(strings.TrimSuffix(line, "\n"), " = "); ok {
			all = append(all, keyValue{key, value})
		}
	}
	return all
}

// valueOf returns the value of a key, "" where there is none.
func valueOf(all []keyValue, key string) string {
	for _, kv := range all {
		if kv.key == key {
			return kv.value
		}
	}
	return ""
}

// rewriteTable writes into a table of a profile the values that have changed, and
// removes keys that are gone. Long lists are broken into lines of perLine numbers.
func rewriteTable(text, table string, before, now []keyValue, perLine int) string {
	for _, kv := range now {
		if kv.value != valueOf(before, kv.key) {
			text = setKey(text, table, kv.key, wrapList(kv.value, perLine))
		}
	}
	for _, kv := range before {
		if valueOf(now, kv.key) == "" {
			text = removeKey(text, table, kv.key)
		}
	}
	return text
}

// wrapList breaks a list that is too long for a line into lines of perLine numbers.
func wrapList(value string, perLine int) string {
	items := strings.Split(strings.Trim(value, "[]"), ", ")
	if !strings.HasPrefix(value, "[") || len(items) <= 12 {
		return value
	}
	var b strings.Builder
	b.WriteString("[\n")
	for len(items) > 0 {
		n := min(perLine, len(items))
		b.WriteString("  " + strings.Join(items[:n], ", ") + ",\n")
		items = items[n:]
	}
	b.WriteString("]")
	return b.String()
}

// entry is the position of a key in the text of a profile, in bytes.
type entry struct {
	key                       string
	line, value, valueEnd, to int // start of its line, start and end of the value, end of its last line
}

// entries finds the keys of a table. end is where new keys are inserted, -1 where
// there is no such table.
func entries(text, table string) (all []entry, end int) {
	here, end := "", -1
	for at := 0; at < len(text); {
		to := lineEnd(text, at)
		line := text[at:to]
		if m := tableLine.FindStringSubmatch(line); m != nil {
			here = strings.TrimSpace(m[1])
			if here == table {
				end = to
			}
		} else if m := keyLine.FindStringSubmatch(line); m != nil {
			e := entry{key: m[1], line: at, value: at + strings.Index(line, "=") + 1}
			for e.value < to && (text[e.value] == ' ' || text[e.value] == '\t') {
				e.value++
			}
			e.valueEnd = valueEnd(text, e.value)
			e.to = lineEnd(text, e.valueEnd)
			to = e.to
			if here == table {
				all, end = append(all, e), e.to
			}
		}
		at = to
	}
	return all, end
}

// lineEnd returns the end of the line at a byte, after its line feed.
func lineEnd(text string, at int) int {
	if n := strings.IndexByte(text[at:], '\n'); n >= 0 {
		return at + n + 1
	}
	return len(text)
}

// valueEnd returns the end of the value that begins at a byte. A list ends at its
// closing bracket, anything else before a comment or at the end of the line.
func valueEnd(text string, at int) int {
	depth, quote, end := 0, byte(0), at
	for i := at; i < len(text); i++ {
		c := text[i]
		switch {
		case quote != 0:
			if c == '\\' && quote == '"' {
				i++
			} else if c == quote {
				quote = 0
			}
			end = min(i+1, len(text))
			continue
		case c == '"' || c == '\'':
			quote = c
		case c == '[':
			depth++
		case c == ']':
			depth--
		case c == '\n' && depth == 0:
			return end
		case c == '#':
			if depth == 0 {
				return end
			}
			i = lineEnd(text, i) - 1
			continue
		}
		if c != ' ' && c != '\t' && c != '\r' && c != '\n' {
			end = i + 1
		}
	}
	return end
}

// setKey sets a key of a table to a value. It adds the key and the table where they
// are missing.
func setKey(text, table, key, value string) string {
	all, end := entries(text, table)
	for _, e := range all {
		if e.key == key {
			return text[:e.value] + value + text[e.valueEnd:]
		}
	}
	line := key + " = " + value + "\n"
	if end < 0 {
		line, end = "\n["+table+"]\n"+line, len(text)
	}
	if end > 0 && text[end-1] != '\n' {
		line = "\n" + line
	}
	return text[:end] + line + text[end:]
}

// removeKey removes a key of a table with its lines.
func removeKey(text, table, key string) string {
	all, _ := entries(text, table)
	for _, e := range all {
		if e.key == key {
			return text[:e.line] + text[e.to:]
		}
	}
	return text
}
