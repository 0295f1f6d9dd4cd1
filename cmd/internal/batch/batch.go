// Package batch analyzes the chosen recordings in parallel on all processors.
package batch

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"sync"

	"aplomb/analyze"
	"aplomb/analyze/compare"
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/software"
	"aplomb/cmd/internal/text"
	"aplomb/plots/words"
)

// Analyze analyzes recordings as Each does, and returns the results in their order.
func Analyze(ctx context.Context, w io.Writer, p *lookup.Recordings, opt analyze.Options) (results []*measure.Result, err error) {
	err = Each(ctx, w, p, opt, func(_ int, r *measure.Result, err error) error {
		if err == nil {
			results = append(results, r)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return results, nil
}

// Each analyzes recordings in parallel and calls done for each in their order, as soon as
// it and those before it are done. Recordings in which one physical shoe is worn are
// measured together; numbers depend neither on the order of the work nor on the number of
// processors. It holds in memory the samples of a group of recordings with common shoes,
// and of one more recording for every processor.
//
// It writes progress and warnings to w. A recording that cannot be measured is named
// there and removed from p, which counts it, so that the others give an answer; done gets
// its error. It is an error when none is left. When ctx is done, p contains the finished
// recordings, and Each returns the error of ctx.
func Each(ctx context.Context, w io.Writer, p *lookup.Recordings, opt analyze.Options, done func(i int, r *measure.Result, err error) error) error {
	opt.Software = software.Provenance()
	if p.Note != "" {
		fmt.Fprintln(w, p.Note)
	}
	progress := console.NewProgress(w)
	defer progress.Clear()
	pace := newPace(progress, "analyzing", p.Paths, p.Paths)
	kept := lookup.Recordings{Visits: p.Visits, Stop: p.Stop, Earlier: p.Earlier, Checks: p.Checks, Agreed: p.Agreed}
	finished := func(i int, r *measure.Result, err error) error {
		pace.finish(i)
		progress.Clear()
		if err != nil {
			if len(p.Entries) > 0 && errors.Is(err, fs.ErrNotExist) {
				err = &console.Remedy{Err: err, Do: "put it back from a backup"}
			}
			kept.LeftOut++
			last := len(kept.Paths) == 0 && i == len(p.Paths)-1
			if !last {
				nameLeftOut(w, p, i, err)
			}
			if e := done(i, nil, err); e != nil {
				return e
			}
			if last && len(p.Entries) > 0 {
				return fmt.Errorf("recording %d cannot be measured: %w", p.Entries[i].ID, err)
			}
			if last {
				return err
			}
			return nil
		}
		kept.Paths = append(kept.Paths, p.Paths[i])
		if len(p.Entries) > 0 {
			kept.Entries = append(kept.Entries, p.Entries[i])
			lookup.Recordings{Entries: p.Entries[i : i+1]}.Name([]*measure.Result{r})
		}
		addVisit(&kept, p, i, r)
		return done(i, r, nil)
	}
	err := analyzeApart(ctx, p.Paths, opt, pace.begin, finished)
	if err != nil && ctx.Err() != nil && len(p.Paths) > 1 {
		progress.Clear()
		fmt.Fprintf(w, "%d of %s analyzed\n", len(kept.Paths), words.Count(len(p.Paths), "recording", "recordings"))
	}
	if err == nil || ctx.Err() != nil {
		*p = kept
	}
	return err
}

// nameLeftOut names a recording that cannot be measured.
func nameLeftOut(w io.Writer, p *lookup.Recordings, i int, err error) {
	if len(p.Entries) == 0 {
		fmt.Fprintf(w, "aplomb: %s\n", console.Explain(err))
		return
	}
	id := p.Entries[i].ID
	text.Warnings(w, []string{fmt.Sprintf("recording %d is left out (aplomb logbook check says more, aplomb logbook erase %d takes it out for good): %s", id, id, console.Explain(err))})
}

// group contains recordings with common physical shoes, which are measured together.
type group struct {
	of       []int // indices
	left     int   // not prepared yet
	prepared []*analyze.Prepared
	errs     []error
}

// analyzeApart analyzes the recordings at paths, one group after the other. The worker
// that prepares the last recording of a group measures the group.
func analyzeApart(ctx context.Context, paths []string, opt analyze.Options, begun func(i int), done func(i int, r *measure.Result, err error) error) error {
	type task struct {
		in *group
		k  int // within the group
	}
	var tasks []task
	for _, of := range analyze.Apart(ctx, paths) {
		g := &group{of, len(of), make([]*analyze.Prepared, len(of)), make([]error, len(of))}
		for k := range of {
			tasks = append(tasks, task{g, k})
		}
	}
	var mutex sync.Mutex // of all groups
	return inOrder(ctx, len(tasks), begun, done, func(ctx context.Context, i int, report func(event[*measure.Result])) {
		g, k := tasks[i].in, tasks[i].k
		report(event[*measure.Result]{i: g.of[k], begun: true})
		prepared, err := analyze.Prepare(ctx, paths[g.of[k]])
		mutex.Lock()
		g.prepared[k], g.errs[k] = prepared, err
		g.left--
		last := g.left == 0
		mutex.Unlock()
		if last {
			g.measure(ctx, opt, report)
		}
	})
}

// measure measures the recordings of a group that could be prepared.
func (g *group) measure(ctx context.Context, opt analyze.Options, report func(event[*measure.Result])) {
	all := slices.DeleteFunc(slices.Clone(g.prepared), func(p *analyze.Prepared) bool { return p == nil })
	g.prepared = nil
	results, err := analyze.Together(ctx, all, opt)
	at := 0
	for k, i := range g.of {
		e := event[*measure.Result]{i: i, err: g.errs[k]}
		if e.err == nil {
			if e.err = err; err == nil {
				e.value = results[at]
			}
			at++
		}
		report(e)
	}
}

// addVisit adds to the result at i the statements about its visit, and spells the dancer
// as the logbook does. For a file it uses the pain recorded after it; the last one recorded
// counts.
func addVisit(kept, p *lookup.Recordings, i int, r *measure.Result) {
	if len(p.Entries) > 0 {
		v := p.Visits[p.Entries[i].VisitID]
		r.Visit = v.Record()
		r.Recording.Dancer = p.Entries[i].Dancer
	} else if r.Remark != nil && r.Remark.Pain != nil {
		kept.Stop = logbook.Visit{PainAfter: r.Remark.Pain}.Advice()
	}
}

// Compare analyzes recordings as Analyze does and compares the shoes with the one called
// base, or with that of the first recording where base is "".
func Compare(ctx context.Context, w io.Writer, p *lookup.Recordings, base string, opt analyze.Options) (*compare.Comparison, []*measure.Result, error) {
	results, err := Analyze(ctx, w, p, opt)
	if err != nil {
		return nil, nil, err
	}
	c, err := compare.Results(results, compare.Options{Base: p.Spelt(base), Earlier: p.Earlier, Checks: p.Checks, Pain: p.Stop != ""})
	if err == nil {
		c.Stop, c.Provenance.Agreements = p.Stop, p.Agreed
	}
	return c, results, err
}

// Alone returns the comparison of the shoes in the result at i alone. The mounting
// effects are estimated from all results and from the rest of the logbook.
func Alone(p *lookup.Recordings, results []*measure.Result, i int) (*compare.Comparison, error) {
	earlier := slices.Concat(p.Earlier, mounting.Rows(results))
	return compare.Results(results[i:i+1], compare.Options{Earlier: earlier, Kept: true, Practice: true})
}

// Renew stores the results of recordings from the logbook in it, and returns how many of
// them had stale measures. A logbook that cannot be written does not change; kept is then
// false.
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
