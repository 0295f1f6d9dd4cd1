package measure

import "fmt"

// Measure names one number of a hold. The zero value names none.
//
// As text, in JSON and as a map key, a measure is its symbol, such as over_mm.
type Measure uint8

// The measures, in the order in which tables list them. The primary measure
// comes first.
const (
	Over Measure = iota + 1
	Medial
	ContactShare
	KernRatio
	EdgeDistance
	OverNorm
	MedialNorm
	Load
	LoadShare
	BackThird
	MiddleThird
	FrontThird
	PeakPressure
	PressureTime
	SwayOver
	SwayMedial
	SwaySpeed
	SwayEllipse
	OverChange
	PeakOverChange
	PeakMedialChange
	HoldTime
)

// Kind states whether a measure was decided on before the data were collected.
type Kind string

const (
	// Declared measures are decided on beforehand. Only a difference in one of them may
	// be called clear.
	Declared Kind = "declared"
	// Exploratory measures are all others. They have values and intervals, and no
	// wording.
	Exploratory Kind = "exploratory"
)

// Description is the catalogue's entry for a measure.
type Description struct {
	Symbol     string // key in JSON, in the logbook and on the command line
	Label      string // short name within a sentence
	Title      string // heading for people
	Unit       string // of the value in JSON; "" for a plain number
	Definition string
	Kind       Kind
	Decimals   int    // shown to people, in Unit, or in per cent where Proportion is set
	Proportion bool   // a share from 0 to 1, shown in per cent
	Low, High  string // names of the ends of its axis; "" where they have none
}

// Describe returns the catalogue's entry for m. A value that names no measure has
// an empty entry.
func (m Measure) Describe() Description {
	if int(m) < len(catalogue) {
		return catalogue[m].Description
	}
	return Description{}
}

// Symbol returns the key of m in JSON, in the logbook and on the command line.
func (m Measure) Symbol() string { return m.Describe().Symbol }

// String returns the symbol.
func (m Measure) String() string { return m.Symbol() }

// MarshalText writes the symbol. A value that names no measure is an error.
func (m Measure) MarshalText() ([]byte, error) {
	if m.Symbol() == "" {
		return nil, fmt.Errorf("measure %d is not in the catalogue", uint8(m))
	}
	return []byte(m.Symbol()), nil
}

// UnmarshalText reads a symbol.
func (m *Measure) UnmarshalText(text []byte) error {
	named, ok := Named(string(text))
	if !ok {
		return fmt.Errorf("measure %.40q is not in the catalogue", text)
	}
	*m = named
	return nil
}

// All returns every measure in the order of the catalogue.
func All() []Measure {
	all := make([]Measure, 0, len(catalogue)-1)
	for m := Over; int(m) < len(catalogue); m++ {
		all = append(all, m)
	}
	return all
}

// Named returns the measure with a symbol.
func Named(symbol string) (m Measure, ok bool) {
	for _, m := range All() {
		if m.Symbol() == symbol {
			return m, true
		}
	}
	return 0, false
}
