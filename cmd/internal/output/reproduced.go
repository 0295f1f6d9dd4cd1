package output

import (
	"aplomb/analyze/document"
	"aplomb/cmd/internal/reproduce"
)

// faults names the kinds of faults in JSON.
var faults = map[reproduce.FaultKind]string{
	reproduce.Missing: "missing", reproduce.Altered: "altered", reproduce.Unlisted: "unlisted", reproduce.Unreadable: "unreadable",
}

// ReproducedJSON returns what was found in a data package. With quick only checksums were
// compared.
func ReproducedJSON(r *reproduce.Report, quick bool) *document.Reproduced {
	one := &document.Reproduced{Reproduced: r.Reproduced(), Files: r.Files, Faults: []document.PackageFault{}, Provenance: Provenance()}
	for _, f := range r.Faults {
		one.Faults = append(one.Faults, document.PackageFault{File: f.Path, Fault: faults[f.Kind], Error: f.Why})
	}
	if quick {
		return one
	}
	one.Compared = &document.Compared{
		MadeBy: document.PackageMadeBy{Software: r.Then, Algorithm: r.Algorithms[0]}, Exact: r.Exact(),
		RecordingsMeasured: r.Recordings, RecordingsLeftOut: r.LeftOut, Tables: r.Tables, TablesIdentical: r.Identical,
		Same: document.ValueCount(r.Same), Close: r.Close, NotCompared: document.ValueCount(r.Left), Differences: []document.ValueDifference{},
	}
	for _, d := range r.Differences {
		v := document.ValueDifference{File: d.File, Row: d.Row, Field: d.Field, Package: reproduce.Text(d.From), Computed: reproduce.Text(d.To)}
		if by, ok := d.By(); ok {
			v.Difference, v.Unit = &by, d.Unit
		}
		one.Compared.Differences = append(one.Compared.Differences, v)
	}
	return one
}
