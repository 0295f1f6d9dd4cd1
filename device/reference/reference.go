// Package reference reads the measurements of a reference instrument, such as a force
// plate, made simultaneously with a strip: load and centre of pressure against its own
// time, as CSV. Of this module it imports only the opening of files.
package reference

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"aplomb/device/input"
)

// Series contains the measurements of one instrument under one foot.
type Series struct {
	Samples []Sample // by time
	Place   bool     // the instrument gives a centre of pressure
	// Triggers are the times, s, at which the column trigger rises from 0; nil where there
	// is no such column.
	Triggers  []float64
	Simulated bool // a comment in the file marks it as simulated
	LeftOut   int  // rows without a load
}

// Sample is one row. The axes of the centre of pressure are those of the instrument, called
// medial and over after the axes of the platform that they lie along.
type Sample struct {
	T        float64 // s
	LoadN    float64
	MedialMM float64 // NaN where the instrument gives none
	OverMM   float64
}

// Limits of a file; our own choice. 5 million rows are 83 minutes at 1000 rows a second,
// and 160 MB of memory.
const (
	MaxRows = 5_000_000
	maxLine = 64 << 10 // bytes
)

// column is a quantity that a column of the file can contain.
type column int

const (
	timeS column = iota
	loadN
	medialMM
	overMM
	trigger
	columns // their number
)

// standardGravity in m/s² and the pound-force in N are exact by definition (ISO 80000-4).
const (
	standardGravity = 9.80665
	poundForce      = 4.4482216152605
)

// units maps the names of columns to quantities, with the factors by which values are
// multiplied.
var units = map[string]struct {
	of    column
	scale float64
}{
	"t_s": {timeS, 1}, "t_ms": {timeS, 1e-3}, "t_us": {timeS, 1e-6},
	"fz_n": {loadN, 1}, "fz_kn": {loadN, 1000}, "fz_kgf": {loadN, standardGravity}, "fz_lbf": {loadN, poundForce},
	"medial_mm": {medialMM, 1}, "medial_cm": {medialMM, 10}, "medial_m": {medialMM, 1000},
	"over_mm": {overMM, 1}, "over_cm": {overMM, 10}, "over_m": {overMM, 1000},
	"trigger": {trigger, 1},
}

// Header is the first line of a file with a centre of pressure.
const Header = "t_s,fz_n,medial_mm,over_mm"

// SimulatedMark is the comment that says that a file was simulated.
const SimulatedMark = "# simulated"

// Read reads the file at path as Parse does. It ends with the error of ctx when ctx is done.
func Read(ctx context.Context, path string) (*Series, error) {
	file, err := input.OpenStream(ctx, path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	return Parse(file, path)
}

// Parse reads comma-separated values. The first line that is no comment names the columns,
// each with its unit: t_s (or t_ms, t_us), fz_n (fz_kn, fz_kgf, fz_lbf), and, where the
// instrument gives a centre of pressure, medial_mm and over_mm (_cm, _m); trigger is
// optional, and other columns are not read. Columns are separated by commas, semicolons,
// tabs or spaces, as in the first line. Lines that begin with # are comments; one that
// begins with SimulatedMark marks the file.
//
// Time must increase from row to row. A row without a load (empty or NaN) is left out; a
// centre of pressure may be missing. Errors name file and line.
func Parse(r io.Reader, name string) (*Series, error) {
	p := parser{name: name, series: &Series{}}
	lines := bufio.NewScanner(r)
	lines.Buffer(make([]byte, 0, 4096), maxLine)
	for lines.Scan() {
		p.line++
		if err := p.add(lines.Bytes()); err != nil {
			return nil, err
		}
	}
	switch err := lines.Err(); {
	case errors.Is(err, bufio.ErrTooLong):
		p.line++
		return nil, p.errorf("a line of more than %d KiB: is it the right file?", maxLine>>10)
	case err != nil:
		return nil, fmt.Errorf("%s: %w", name, err)
	case p.at == nil:
		return nil, fmt.Errorf("%s: empty: it should begin with the header %s", name, Header)
	case len(p.series.Samples) < 2:
		return nil, fmt.Errorf("%s: fewer than two rows with a load: is the file complete?", name)
	}
	return p.series, nil
}

// parser reads a file line by line.
type parser struct {
	name      string
	line      int
	at        []int // by column in the file: its quantity; -1 where it is not read
	scale     [columns]float64
	separator string // "" for spaces
	series    *Series
	risen     bool // the trigger was not 0 in the row before
}

func (p *parser) errorf(format string, args ...any) error {
	return fmt.Errorf("%s:%d: "+format, append([]any{p.name, p.line}, args...)...)
}

func (p *parser) add(line []byte) error {
	if p.line == 1 {
		line = bytes.TrimPrefix(line, []byte("\xEF\xBB\xBF")) // a byte order mark, which spreadsheets write
	}
	text := strings.TrimSpace(string(line))
	switch {
	case text == "":
		return nil
	case text[0] == '#':
		p.series.Simulated = p.series.Simulated || strings.HasPrefix(strings.ToLower(text), SimulatedMark)
		return nil
	case p.at == nil:
		return p.header(text)
	case p.separator == "\t":
		text = strings.Trim(string(line), " \r") // tabs at the end are empty fields
	}
	return p.row(text)
}

// header reads the names of the columns.
func (p *parser) header(text string) error {
	if !utf8.ValidString(text) || strings.Contains(text, "\x00") {
		return p.errorf("no text in UTF-8: save it as CSV in UTF-8")
	}
	for _, s := range []string{";", ",", "\t"} {
		if strings.Contains(text, s) {
			p.separator = s
			break
		}
	}
	var known [columns]bool
	for _, word := range p.split(text) {
		word = strings.ToLower(strings.Trim(word, `" `))
		u, ok := units[word]
		if !ok {
			p.at = append(p.at, -1)
			continue
		}
		if known[u.of] {
			return p.errorf("column %s: the same quantity twice", word)
		}
		known[u.of], p.scale[u.of] = true, u.scale
		p.at = append(p.at, int(u.of))
	}
	for _, want := range []struct {
		of    column
		names string
	}{{timeS, "t_s, t_ms or t_us"}, {loadN, "fz_n, fz_kn, fz_kgf or fz_lbf"}} {
		if !known[want.of] {
			return p.errorf("no column %s: the first line names the columns with their units, such as %s", want.names, Header)
		}
	}
	if known[medialMM] != known[overMM] {
		return p.errorf("a centre of pressure has two columns, such as medial_mm and over_mm: only one is here")
	}
	p.series.Place = known[overMM]
	if known[trigger] {
		p.series.Triggers = []float64{}
	}
	return nil
}

func (p *parser) split(text string) []string {
	if p.separator == "" {
		return strings.Fields(text)
	}
	return strings.Split(text, p.separator)
}

// row reads one row of numbers.
func (p *parser) row(text string) error {
	words := p.split(text)
	if len(words) != len(p.at) {
		return p.errorf("%d columns, the first line has %d", len(words), len(p.at))
	}
	nan := math.NaN()
	values := [columns]float64{nan, nan, nan, nan, 0}
	for i, word := range words {
		of := p.at[i]
		word = strings.TrimSpace(word)
		if of < 0 || word == "" {
			continue
		}
		v, err := strconv.ParseFloat(word, 64)
		if err != nil && strings.Contains(word, ",") {
			return p.errorf("%.40q: write numbers with a decimal point", word)
		}
		v *= p.scale[of]
		if err != nil || math.IsInf(v, 0) {
			return p.errorf("%.40q is no number", word)
		}
		values[of] = v
	}
	s := Sample{values[timeS], values[loadN], values[medialMM], values[overMM]}
	all := p.series.Samples
	switch {
	case math.IsNaN(s.T):
		return p.errorf("no time in the row")
	case len(all) > 0 && s.T <= all[len(all)-1].T:
		return p.errorf("time %g s after %g s: time must increase from row to row; split the file where the clock started again", s.T, all[len(all)-1].T)
	case len(all) == MaxRows:
		return p.errorf("more than %d rows: cut the file to the recording", MaxRows)
	}
	if p.series.Triggers != nil {
		on := values[trigger] != 0 && !math.IsNaN(values[trigger])
		if on && !p.risen {
			p.series.Triggers = append(p.series.Triggers, s.T)
		}
		p.risen = on
	}
	if math.IsNaN(s.LoadN) {
		p.series.LeftOut++
		return nil
	}
	p.series.Samples = append(all, s)
	return nil
}

// IntervalS returns the median time from one sample to the next, s.
func (s *Series) IntervalS() float64 {
	steps := make([]float64, 0, min(len(s.Samples), medianOf))
	for i := 1; i < len(s.Samples) && len(steps) < medianOf; i++ {
		steps = append(steps, s.Samples[i].T-s.Samples[i-1].T)
	}
	if len(steps) == 0 {
		return math.NaN()
	}
	slices.Sort(steps)
	return steps[len(steps)/2]
}

// medianOf is the number of steps at the beginning from which the interval is computed.
const medianOf = 10_001
