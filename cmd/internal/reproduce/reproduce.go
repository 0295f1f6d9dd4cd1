// Package reproduce computes the numbers of a data package again from its recordings,
// with the code that makes such packages, and compares them with those in its tables. It
// writes nothing, and needs only the package.
package reproduce

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"aplomb/analyze/dataset"
	"aplomb/analyze/measure"
	"aplomb/analyze/provenance"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/export"
	"aplomb/cmd/internal/software"
)

// Report contains the findings about a package.
type Report struct {
	Files  int     // that the package lists with their checksums
	Faults []Fault // in the order of their paths

	// The following fields are empty where only checksums were compared.
	Then, Now   measure.Software // the program that made the package, and this one
	Algorithms  [2]string        // theirs
	Recordings  int              // that were computed again
	LeftOut     int              // recordings that were not, because they or others of their visit have a fault
	Tables      int              // files of tables that were compared
	Identical   int              // of these, files that are the same byte by byte
	Same        Values           // in the package and computed again
	Close       int              // numbers in Same that are not equal, see Tolerance
	Left        Values           // in the package, that rest on recordings that were left out
	Differences []Difference
}

// Tolerance is the allowed difference between two numbers computed on processors of
// different architectures, relative to the number or in its unit. On one architecture
// numbers have to be equal.
const Tolerance = 1e-9

// Values counts values that are there.
type Values struct{ Numbers, Others int }

// Fault is a file of the package that differs from its entry in the list.
type Fault struct {
	Path string
	Kind FaultKind
	Why  string // of an unreadable one
}

// FaultKind is the kind of fault of a file.
type FaultKind int

const (
	Missing    FaultKind = iota
	Altered              // its checksum is another
	Unlisted             // a correction that is not in the list, and would change numbers
	Unreadable           // it cannot be read, or holds no table
)

// Difference is one value that differs. From is in the package, To is computed; nil stands
// for no value. Field is "" where a row or a file is on one side only.
type Difference struct {
	File     string
	Row      string // its key
	Field    string
	Unit     string
	From, To any
}

// Reproduced reports whether the package is intact, is of this algorithm and has the same
// numbers.
func (r *Report) Reproduced() bool {
	return len(r.Faults) == 0 && r.Algorithms[0] == r.Algorithms[1] && len(r.Differences) == 0
}

// Exact reports whether numbers have to be equal.
func (r *Report) Exact() bool { return r.Then.Architecture == r.Now.Architecture }

// Package checks the package in a folder and, unless quick, computes its numbers again.
// It writes progress, and why recordings are left out, to w. Faults and differences are
// in the report; it returns an error where nothing could be compared, and that of ctx.
func Package(ctx context.Context, w io.Writer, dir string, quick bool) (*Report, error) {
	p := &pack{dir: dir, w: w, report: &Report{}}
	if err := p.readSums(); err != nil {
		return nil, err
	}
	if err := p.checkSums(ctx); err != nil || quick {
		return p.report, err
	}
	if err := p.readProvenance(); err != nil {
		return nil, err
	}
	c, err := p.compute(ctx)
	if err != nil {
		return nil, err
	}
	return p.report, p.compare(ctx, c)
}

// pack is a package that is being checked.
type pack struct {
	dir    string
	w      io.Writer
	sums   map[string]string // by path in the package, in hexadecimal
	faults map[string]bool   // paths
	report *Report
	inputs export.Inputs
	visits map[string]visit // by id of the recording
	out    map[visit]bool   // those whose recordings are left out
}

// visit identifies the recordings that are measured together.
type visit struct{ dancer, name string }

// at returns the path of a file of the package.
func (p *pack) at(name string) string { return filepath.Join(p.dir, filepath.FromSlash(name)) }

func (p *pack) fault(name string, kind FaultKind, why string) {
	p.faults[name] = true
	p.report.Faults = append(p.report.Faults, Fault{name, kind, why})
}

// readSums reads the list of files with their checksums.
func (p *pack) readSums() error {
	data, err := os.ReadFile(p.at(export.SumsFile))
	if info, e := os.Stat(p.dir); e == nil && !info.IsDir() {
		return fmt.Errorf("%s: a file: name the folder of a package that aplomb export wrote", p.dir)
	}
	if errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s: no %s in it: name the folder of a package that aplomb export wrote", p.dir, export.SumsFile)
	}
	if err != nil {
		return err
	}
	p.sums, p.faults = map[string]string{}, map[string]bool{}
	for line := range strings.Lines(string(data)) {
		sum, name, ok := strings.Cut(strings.TrimRight(line, "\r\n"), "  ")
		if !ok || !fs.ValidPath(name) {
			return fmt.Errorf("%s: %.60q is no checksum and path: take the file from another copy of the package", p.at(export.SumsFile), line)
		}
		p.sums[name] = sum
	}
	p.report.Files = len(p.sums)
	return nil
}

// checkSums compares the checksums of all files, and finds corrections that are not listed.
func (p *pack) checkSums(ctx context.Context) error {
	progress := console.NewProgress(p.w)
	defer progress.Clear()
	names := slices.Sorted(maps.Keys(p.sums))
	for i, name := range names {
		progress.Show("checking file %d of %d", i+1, len(names))
		sum, _, err := provenance.SHA256(ctx, p.at(name))
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case errors.Is(err, fs.ErrNotExist):
			p.fault(name, Missing, "")
		case err != nil:
			p.fault(name, Unreadable, console.Explain(err))
		case sum != p.sums[name]:
			p.fault(name, Altered, "")
		}
	}
	found, err := filepath.Glob(filepath.Join(p.at("recordings"), "*.json"))
	if err != nil {
		return err
	}
	for _, at := range found {
		if name := path.Join("recordings", filepath.Base(at)); p.sums[name] == "" {
			p.fault(name, Unlisted, "")
		}
	}
	slices.SortStableFunc(p.report.Faults, func(a, b Fault) int { return strings.Compare(a.Path, b.Path) })
	return nil
}

// readProvenance reads which program computed the numbers of the package.
func (p *pack) readProvenance() error {
	p.report.Now = software.Provenance()
	p.report.Then = p.report.Now
	p.report.Algorithms = [2]string{provenance.Algorithm(), provenance.Algorithm()}
	var then *measure.Provenance
	data, err := os.ReadFile(p.at(export.ProvenanceFile))
	if err == nil {
		err = json.Unmarshal(data, &then)
	}
	if err != nil {
		return fmt.Errorf("%s: by which program is not known: %w", p.at(export.ProvenanceFile), err)
	}
	if then != nil { // nothing was measured otherwise
		p.report.Then, p.report.Algorithms[0] = then.Software, then.Algorithm
	}
	return nil
}

// compute measures the recordings again. Visits with a faulty recording are left out,
// since the results of their other recordings would differ without it.
func (p *pack) compute(ctx context.Context) (*export.Collection, error) {
	data, err := os.ReadFile(p.at(export.InputsFile))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%s: not there, so that it is not known which recordings are measured together: export the package again, or use --quick", p.at(export.InputsFile))
	}
	if err != nil {
		return nil, err
	}
	if p.inputs, err = export.ReadInputs(data); err != nil {
		return nil, fmt.Errorf("%s: %w", p.dir, err)
	}
	p.visits, p.out = map[string]visit{}, map[visit]bool{}
	for _, r := range p.inputs.Recordings {
		p.visits[r.Recording] = visit{r.Dancer, r.Visit}
		if p.sums[r.File] == "" {
			return nil, fmt.Errorf("%s: %s is not in %s: take both from another copy of the package", p.at(export.InputsFile), r.File, export.SumsFile)
		}
		if p.faults[r.File] || p.faults[correctionOf(r)] {
			p.out[p.visits[r.Recording]] = true
		}
	}
	kept := p.inputs.Kept(func(r *export.Assigned) (string, bool) {
		return p.at(r.File), !p.out[p.visits[r.Recording]]
	})
	p.report.Recordings = len(kept.Paths)
	p.report.LeftOut = len(p.inputs.Recordings) - len(kept.Paths)
	if len(kept.Paths) == 0 {
		return &export.Collection{}, nil
	}
	traces := slices.ContainsFunc(slices.Collect(maps.Keys(p.sums)), func(name string) bool { return strings.HasPrefix(name, "cop/") })
	return export.Collect(ctx, p.w, kept, traces)
}

// correctionOf returns the path that a correction of a recording has, or would have.
func correctionOf(r export.Assigned) string {
	return strings.TrimSuffix(r.File, ".mcap") + ".correction.json"
}

// compare compares every file of the package that is computed with what is computed now.
func (p *pack) compare(ctx context.Context, c *export.Collection) error {
	progress := console.NewProgress(p.w)
	defer progress.Clear()
	made := map[string]*export.Made{}
	for _, m := range c.Made(export.Formats()) {
		made[m.Path] = &m
	}
	for _, name := range slices.Sorted(maps.Keys(p.sums)) {
		if err := ctx.Err(); err != nil {
			return err
		}
		schema, computed := computedFrom(name)
		if !computed {
			continue
		}
		data, err := os.ReadFile(p.at(name))
		if err != nil {
			continue // it is named already
		}
		progress.Show("comparing %s", name)
		m, identical := made[name], false
		if m != nil {
			var again bytes.Buffer
			if err := m.Write(ctx, &again); err != nil {
				return err
			}
			identical = bytes.Equal(data, again.Bytes())
		}
		if schema == nil {
			if !identical && (m != nil || len(p.out) == 0) {
				p.report.Differences = append(p.report.Differences, Difference{File: name})
			}
			continue
		}
		p.report.Tables++
		now := dataset.Table{Schema: *schema}
		if m != nil {
			if now, err = m.Table(ctx); err != nil {
				return err
			}
		}
		if identical {
			p.report.Identical++
			for _, row := range now.Rows {
				p.report.Same.add(now, row)
			}
			continue
		}
		then, err := export.ReadTable(data, strings.TrimPrefix(path.Ext(name), "."), *schema)
		if err != nil {
			p.fault(name, Unreadable, console.Explain(err))
			continue
		}
		p.compareTables(name, then, now)
	}
	return nil
}

// stated are the tables of statements by people, which are not computed.
var stated = []string{"dancers", "visits", "checks", "studies", "study_orders", "study_changes"}

// computedFrom reports whether a file of a package is computed, and the schema of its
// table; nil of a profile.
func computedFrom(name string) (*dataset.Schema, bool) {
	folder, _, _ := strings.Cut(name, "/")
	if folder == "profiles" {
		return nil, true
	}
	table := strings.TrimSuffix(path.Base(name), path.Ext(name))
	for _, s := range dataset.Schemas() {
		if s.Name == table && (folder == "tables" && s.Partition == nil || folder == table && s.Partition != nil) {
			return &s, !slices.Contains(stated, table)
		}
	}
	return nil, false
}
