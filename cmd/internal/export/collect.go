package export

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"path"
	"slices"

	"aplomb/analyze"
	"aplomb/analyze/compare"
	"aplomb/analyze/dataset"
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/analyze/provenance"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/software"
	"aplomb/cmd/internal/text"
	"aplomb/device"
	"aplomb/device/correction"
	"aplomb/device/recording"
)

// Collection is the content of a package.
type Collection struct {
	Source dataset.Source
	Failed int // recordings and visits left out because of errors; each was named
	// About contains chapters of README.md, in Markdown, about data that were changed or
	// left out; "" where there are none.
	About string

	files map[string]original // by path in the package
}

// original is a file that goes into a package as it is.
type original struct{ path, sha256 string }

// Collect measures recordings, visit by visit of a dancer, and compares the shoes of each
// visit. It writes to w why a recording or a comparison is left out, and continues with
// the others. With traces the results contain load and centre of pressure frame by frame.
func Collect(ctx context.Context, w io.Writer, p lookup.Kept, traces bool) (*Collection, error) {
	c := &collector{Collection: Collection{files: map[string]original{}}, w: w, progress: console.NewProgress(w), seen: map[string]string{}, traces: traces}
	defer c.progress.Clear()
	for i, at := range p.Paths {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		var entry *logbook.Recording
		if len(p.Entries) > 0 {
			entry = &p.Entries[i]
		}
		if err := c.add(ctx, at, entry); err != nil {
			if ctx.Err() != nil {
				return nil, ctx.Err()
			}
			c.fail("%s is left out: %s", at, console.Explain(err))
		}
	}
	if len(c.Source.Units) == 0 {
		return nil, errors.New("there is no recording to export")
	}
	c.sort()
	for i := range c.Source.Units {
		if err := c.measure(ctx, &c.Source.Units[i]); err != nil {
			return nil, err
		}
	}
	c.Source.Visits, c.Source.Dancers, c.Source.Checks, c.Source.Studies = p.Visits, p.Dancers, p.Checks, p.Studies
	c.compare()
	return &c.Collection, nil
}

// collector is a Collection that is being made.
type collector struct {
	Collection
	w        io.Writer
	progress *console.Progress
	seen     map[string]string // the file of each id so far
	traces   bool
}

// fail reports what is left out and why.
func (c *collector) fail(format string, args ...any) {
	c.Failed++
	c.say(format, args...)
}

// say writes a warning.
func (c *collector) say(format string, args ...any) {
	c.progress.Clear()
	text.Warnings(c.w, []string{fmt.Sprintf(format, args...)})
}

// add takes a recording into its unit. entry is nil for a file.
func (c *collector) add(ctx context.Context, at string, entry *logbook.Recording) error {
	c.progress.Show("reading %s", at)
	r, err := recording.Open(ctx, at)
	if err != nil {
		return err
	}
	meta, corrected := r.Meta(), r.Correction()
	if err := r.Close(); err != nil {
		return err
	}
	one := dataset.Recording{Meta: meta}
	if one.SHA256, _, err = provenance.SHA256(ctx, at); err != nil {
		return err
	}
	visit, day := dataset.VisitOf(&meta)
	unit := dataset.Unit{Dancer: meta.Dancer, Visit: visit, Day: day}
	if entry != nil {
		one.ID, one.Number = entry.Identity, entry.ID
		unit = dataset.Unit{Dancer: entry.Dancer, Visit: entry.VisitName, Day: string(entry.Day)}
	}
	if one.ID == "" {
		if one.ID, err = recording.Identity(ctx, at); err != nil && ctx.Err() != nil {
			return err
		}
	}
	if corrected != nil {
		one.Remark = corrected.Remark()
		one.ID = cmp.Or(one.ID, corrected.ID)
		one.Correction = path.Join("recordings", correction.Name(one.ID))
	}
	one.ID = cmp.Or(one.ID, "sha256-"+one.SHA256[:12])
	if other, ok := c.seen[one.ID]; ok {
		c.say("%s is left out: it is the same recording as %s", at, other)
		return nil
	}
	c.seen[one.ID] = at
	one.File = path.Join("recordings", one.ID+".mcap")
	c.files[one.File] = original{at, one.SHA256}
	if corrected != nil {
		c.files[one.Correction] = original{corrected.Path, corrected.SHA256}
	}
	i := slices.IndexFunc(c.Source.Units, func(u dataset.Unit) bool { return u.Dancer == unit.Dancer && u.Visit == unit.Visit })
	if i < 0 {
		i, c.Source.Units = len(c.Source.Units), append(c.Source.Units, unit)
	}
	c.Source.Units[i].Recordings = append(c.Source.Units[i].Recordings, one)
	return nil
}

// sort puts units in the order of dancer and day, and their recordings in that of time, so
// that nothing depends on the order in which they were named.
func (c *collector) sort() {
	slices.SortFunc(c.Source.Units, func(a, b dataset.Unit) int {
		return cmp.Or(cmp.Compare(a.Dancer, b.Dancer), cmp.Compare(a.Day, b.Day), cmp.Compare(len(a.Visit), len(b.Visit)), cmp.Compare(a.Visit, b.Visit))
	})
	for _, u := range c.Source.Units {
		slices.SortFunc(u.Recordings, func(a, b dataset.Recording) int {
			return cmp.Or(a.Meta.Started.Compare(b.Meta.Started), cmp.Compare(a.ID, b.ID))
		})
	}
}

// measure measures the recordings of a unit together. The error is that of ctx.
func (c *collector) measure(ctx context.Context, u *dataset.Unit) error {
	var prepared []*analyze.Prepared
	var of []*dataset.Recording
	for i := range u.Recordings {
		r := &u.Recordings[i]
		if r.Remark.Rejected() {
			continue
		}
		at := c.files[r.File].path
		c.progress.Show("measuring %s", at)
		one, err := analyze.Prepare(ctx, at)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil {
			r.Failed = console.Explain(err)
			c.fail("%s is not measured: %s", at, r.Failed)
			continue
		}
		prepared, of = append(prepared, one), append(of, r)
	}
	results, err := analyze.Together(ctx, prepared, analyze.Options{Software: software.Provenance(), KeepBudget: true, KeepTrace: c.traces})
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err != nil {
		for _, r := range of {
			r.Failed = console.Explain(err)
		}
		c.fail("visit %s of dancer %q is not measured: %s", u.Visit, u.Dancer, console.Explain(err))
		return nil
	}
	for i, r := range of {
		r.Result = results[i]
		r.Result.Recording.File = path.Base(r.File)
		r.Result.Recording.Dancer = u.Dancer
		for k := range r.Result.Provenance.Inputs {
			r.Result.Provenance.Inputs[k].File = path.Base(r.File)
		}
		for f := range r.Result.Presses {
			for k := range r.Result.Presses[f] {
				r.Result.Presses[f][k].Maps = nil // they are large and no longer used
			}
		}
	}
	return nil
}

// compare compares the shoes of every unit. Mounting effects are estimated from all
// recordings of the package.
func (c *collector) compare() {
	var rows []mounting.Row
	results := make([][]*measure.Result, len(c.Source.Units))
	for i, u := range c.Source.Units {
		for _, r := range u.Recordings {
			if r.Result == nil {
				continue
			}
			results[i] = append(results[i], r.Result)
			if r.Meta.Feedback == device.FeedbackLive {
				continue // practice is no evidence about a shoe
			}
			own := mounting.Rows([]*measure.Result{r.Result})
			for k := range own {
				own[k].Recording = r.ID
				own[k].Group += ", visit " + u.Visit // a recording does not always name its visit
			}
			rows = append(rows, own...)
		}
	}
	pool := mounting.New(rows)
	for i := range c.Source.Units {
		u := &c.Source.Units[i]
		if len(results[i]) == 0 {
			continue
		}
		compared, err := compare.Results(results[i], compare.Options{Earlier: rows, Kept: true, Pool: pool, Checks: c.Source.Checks})
		if errors.Is(err, compare.ErrPractice) {
			continue
		}
		if err != nil {
			c.fail("visit %s of dancer %q is not compared: %s", u.Visit, u.Dancer, err)
			continue
		}
		u.Comparison = compared
	}
}

// provenance returns what the numbers were computed from.
func (c *Collection) provenance() *measure.Provenance {
	var all []*measure.Provenance
	for _, u := range c.Source.Units {
		for _, r := range u.Recordings {
			if r.Result != nil {
				all = append(all, r.Result.Provenance)
			}
		}
	}
	return provenance.Joined(all...)
}
