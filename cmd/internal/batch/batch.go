// Package batch analyzes the recordings that a person chose, one after the other.
package batch

import (
	"context"
	"fmt"
	"io"
	"slices"

	"aplomb/analyze"
	"aplomb/analyze/compare"
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/software"
	"aplomb/cmd/internal/text"
)

// Analyze analyzes recordings together and writes progress and warnings to w. One
// that cannot be measured is named there and left out of p, which counts it, so that
// there is an answer from the others. It is an error when none is left.
func Analyze(ctx context.Context, w io.Writer, p *lookup.Recordings, opt analyze.Options) ([]*measure.Result, error) {
	opt.Software = software.Provenance()
	if p.Note != "" {
		fmt.Fprintln(w, p.Note)
	}
	progress := console.NewProgress(w)
	defer progress.Clear()
	var prepared []*analyze.Prepared
	done := lookup.Recordings{Visits: p.Visits, Stop: p.Stop, Earlier: p.Earlier, Checks: p.Checks}
	for i, path := range p.Paths {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		progress.Show("analyzing %s (%d of %d)", path, i+1, len(p.Paths))
		r, err := analyze.Prepare(ctx, path)
		if err == nil {
			prepared = append(prepared, r)
			done.Paths = append(done.Paths, path)
			if len(p.Entries) > 0 {
				done.Entries = append(done.Entries, p.Entries[i])
			}
			continue
		}
		if ctx.Err() != nil {
			return nil, err
		}
		done.LeftOut++
		last := len(prepared) == 0 && i == len(p.Paths)-1
		progress.Clear()
		switch {
		case last && len(p.Entries) == 0:
			return nil, err
		case last:
			return nil, fmt.Errorf("recording %d cannot be measured: %w", p.Entries[i].ID, err)
		case len(p.Entries) == 0:
			fmt.Fprintf(w, "aplomb: %s\n", console.Explain(err))
		default:
			id := p.Entries[i].ID
			text.Warnings(w, []string{fmt.Sprintf("recording %d is left out (aplomb logbook check says more, aplomb logbook erase %d takes it out for good): %s", id, id, console.Explain(err))})
		}
	}
	results, err := analyze.Together(ctx, prepared, opt)
	if err != nil {
		return nil, err
	}
	*p = done
	p.Name(results)
	addVisits(p, results)
	return results, nil
}

// addVisits adds to each result what people said of its visit. Of files it takes what was
// said of the pain after the last of them.
func addVisits(p *lookup.Recordings, results []*measure.Result) {
	for i, r := range results {
		if len(p.Entries) > 0 {
			v := p.Visits[p.Entries[i].VisitID]
			r.Visit = v.Said()
		} else if r.Remark != nil {
			p.Stop = logbook.Visit{PainAfter: r.Remark.Pain}.Advice()
		}
	}
}

// Compare analyzes recordings as Analyze does and sets the shoes against the one
// called base, or against that of the first recording where base is "".
func Compare(ctx context.Context, w io.Writer, p *lookup.Recordings, base string, opt analyze.Options) (*compare.Comparison, []*measure.Result, error) {
	results, err := Analyze(ctx, w, p, opt)
	if err != nil {
		return nil, nil, err
	}
	c, err := compare.Results(results, compare.Options{Base: p.Spelt(base), Earlier: p.Earlier, Checks: p.Checks, Pain: p.Stop != ""})
	if err == nil {
		c.Stop = p.Stop
	}
	return c, results, err
}

// Alone returns what the result at i says by itself about its shoes. The mounting effects
// are estimated from all results and from the rest of the logbook.
func Alone(p *lookup.Recordings, results []*measure.Result, i int) (*compare.Comparison, error) {
	earlier := slices.Concat(p.Earlier, mounting.Rows(results))
	return compare.Results(results[i:i+1], compare.Options{Earlier: earlier, Kept: true, Practice: true})
}

// Renew puts the results of recordings that were chosen from the logbook into it,
// and returns how many of them had stale measures. A logbook that cannot be written
// stays as it is; kept is then false.
func Renew(folder *lookup.Folder, p lookup.Recordings, results []*measure.Result) (kept bool, stale int, err error) {
	err = folder.With(func(l *logbook.Logbook) error {
		if l.Writable() != nil {
			return nil
		}
		kept = true
		for i, r := range p.Entries {
			if r.Measures == logbook.Stale {
				stale++
			}
			if err := l.PutMeasures(r.ID, results[i]); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return false, stale, fmt.Errorf("the measures in the logbook stay as they were: %w", err)
	}
	return kept, stale, nil
}
