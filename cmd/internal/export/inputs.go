package export

import (
	"encoding/json"
	"fmt"
	"math"
	"time"

	"aplomb/analyze/logbook"
	"aplomb/analyze/scale"
	"aplomb/cmd/internal/lookup"
)

// Files of a package that the program reads again.
const (
	InputsFile     = "inputs.json"
	ProvenanceFile = "provenance.json"
	SumsFile       = "SHA256SUMS"
)

// Inputs contains everything on which numbers of a package depend and that is not in its
// recordings or corrections.
type Inputs struct {
	Recordings []Assigned `json:"recordings"` // those of one visit of a dancer are measured together
	Checks     []check    `json:"checks"`     // of the strips: comparisons of load depend on them
}

// Assigned is a recording with the visit in which it is measured.
type Assigned struct {
	Recording  string `json:"recording"` // id
	File       string `json:"file"`      // path in the package
	Correction string `json:"correction,omitempty"`
	Dancer     string `json:"dancer,omitempty"`
	Visit      string `json:"visit"`
	Day        string `json:"day"`
	Number     int64  `json:"number,omitempty"` // in the logbook
}

// check is a scale.Check in JSON.
type check struct {
	Strip      string   `json:"strip"`
	Version    int      `json:"version"`
	Day        string   `json:"day"`
	Pass       bool     `json:"pass"`
	Presses    int      `json:"presses"`
	LoadBias   float64  `json:"load_bias"`
	LoadRMS    float64  `json:"load_rms"`
	CoPRMSMM   *float64 `json:"cop_rms_mm"` // null where no press had a centre of pressure
	LoadU      float64  `json:"load_u"`
	LoadLimit  float64  `json:"load_limit"`
	CoPLimitMM float64  `json:"cop_limit_mm"`
}

// inputs returns the inputs of a collection.
func (c *Collection) inputs() Inputs {
	in := Inputs{Recordings: []Assigned{}, Checks: []check{}}
	for _, u := range c.Source.Units {
		for _, r := range u.Recordings {
			in.Recordings = append(in.Recordings, Assigned{r.ID, r.File, r.Correction, u.Dancer, u.Visit, u.Day, r.Number})
		}
	}
	for _, k := range c.Source.Checks {
		one := check{k.Strip, k.Version, k.Day.Format(time.DateOnly), k.Pass, k.Presses, k.Bias, k.RMSLoad, nil, k.LoadU, k.LimitLoad, k.LimitCoPMM}
		if !math.IsNaN(k.RMSCoPMM) {
			one.CoPRMSMM = &k.RMSCoPMM
		}
		in.Checks = append(in.Checks, one)
	}
	return in
}

// ReadInputs reads inputs from the text of InputsFile.
func ReadInputs(data []byte) (Inputs, error) {
	var in Inputs
	if err := json.Unmarshal(data, &in); err != nil {
		return in, fmt.Errorf("%s cannot be read: %w", InputsFile, err)
	}
	for _, k := range in.Checks {
		if _, err := time.Parse(time.DateOnly, k.Day); err != nil {
			return in, fmt.Errorf("%s cannot be read: %w", InputsFile, err)
		}
	}
	return in, nil
}

// Kept returns the recordings of the inputs for which at returns a path, each in its visit.
func (in *Inputs) Kept(at func(*Assigned) (path string, ok bool)) lookup.Kept {
	var p lookup.Kept
	for i := range in.Recordings {
		r := &in.Recordings[i]
		path, ok := at(r)
		if !ok {
			continue
		}
		p.Paths = append(p.Paths, path)
		p.Entries = append(p.Entries, logbook.Recording{ID: r.Number, Identity: r.Recording, Dancer: r.Dancer, VisitName: r.Visit, Day: logbook.Day(r.Day)})
	}
	for _, k := range in.Checks {
		day, _ := time.Parse(time.DateOnly, k.Day) // ReadInputs refuses others
		one := scale.Check{Strip: k.Strip, Version: k.Version, Day: day, Pass: k.Pass, Presses: k.Presses, Bias: k.LoadBias, RMSLoad: k.LoadRMS, RMSCoPMM: math.NaN(), LoadU: k.LoadU, LimitLoad: k.LoadLimit, LimitCoPMM: k.CoPLimitMM}
		if k.CoPRMSMM != nil {
			one.RMSCoPMM = *k.CoPRMSMM
		}
		p.Checks = append(p.Checks, one)
	}
	return p
}
