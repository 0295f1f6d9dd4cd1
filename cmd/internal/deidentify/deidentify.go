package deidentify

import (
	"bufio"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"aplomb/analyze/dataset"
	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/software"
	"aplomb/cmd/internal/text"
	"aplomb/device"
	"aplomb/device/correction"
	"aplomb/device/link"
	"aplomb/device/owneronly"
	"aplomb/device/recording"
)

// Rewritten contains recordings that were written again, with the retained data of their
// visits and dancers.
type Rewritten struct {
	Kept     lookup.Kept       // to export: files of a folder of its own
	AgeBands map[string]string // by the new code of a dancer whose year of birth is known
	Failed   int               // recordings that could not be written again; each was named
	Report   Report

	dir string
}

// Remove removes the files. What was exported does not need them.
func (r *Rewritten) Remove() error { return os.RemoveAll(r.dir) }

// Rewrite writes recordings again under a key, into a temporary folder that only the user
// can read. It writes to w why a recording is left out, and continues with the others.
// words keeps notes and free text.
func Rewrite(ctx context.Context, w io.Writer, p lookup.Kept, key *Key, words bool) (_ *Rewritten, err error) {
	dir, err := os.MkdirTemp("", "aplomb-")
	if err != nil {
		return nil, err
	}
	d := &deidentifier{Rewritten: Rewritten{AgeBands: map[string]string{}, dir: dir}, key: key, codes: newCodes(key), words: words, w: w, progress: console.NewProgress(w)}
	defer d.progress.Clear()
	defer func() {
		if err != nil {
			err = errors.Join(err, d.Remove())
		}
	}()
	for i, at := range p.Paths {
		o, err := d.read(ctx, at)
		if err == nil && len(p.Entries) > 0 {
			err = o.assign(&p.Entries[i])
		}
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if err != nil {
			d.fail(at, err)
			continue
		}
		d.originals = append(d.originals, o)
	}
	if err := d.calibrations(); err != nil {
		return nil, err
	}
	for i := range d.originals {
		o := &d.originals[i]
		d.progress.Show("writing anew %s", o.path)
		to := filepath.Join(dir, strconv.Itoa(i+1), filepath.Base(o.path)) // later messages name it
		if err := d.write(ctx, o, to); err != nil {
			if ctx.Err() != nil {
				return nil, ctx.Err()
			}
			if file := new(os.PathError); errors.As(err, &file) && strings.HasPrefix(file.Path, dir) { // the failure is not due to the recording
				return nil, err
			}
			d.fail(o.path, err)
			continue
		}
		d.Kept.Paths = append(d.Kept.Paths, to)
		o.written = true
	}
	d.people(p)
	if d.codes.err != nil {
		return nil, d.codes.err
	}
	d.Report = d.report()
	return &d.Rewritten, nil
}

// deidentifier contains recordings that are being written again.
type deidentifier struct {
	Rewritten
	key       *Key
	codes     *codes
	words     bool
	w         io.Writer
	progress  *console.Progress
	originals []original
	made      map[string]device.Date // days of calibrations, by dancer and strip, see madeKey
}

// original is a recording that is to be written again.
type original struct {
	path    string
	meta    device.Metadata // with its correction, its dancer and its visit
	day     logbook.Day     // of the visit
	number  int             // of the visit on that day
	remark  correction.Remark
	written bool
}

func (d *deidentifier) fail(at string, err error) {
	d.Failed++
	d.progress.Clear()
	text.Warnings(d.w, []string{fmt.Sprintf("%s is left out: %s", at, console.Explain(err))})
}

// read reads the metadata of a recording.
func (d *deidentifier) read(ctx context.Context, at string) (o original, err error) {
	d.progress.Show("reading %s", at)
	r, err := recording.Open(ctx, at)
	if err != nil {
		return o, err
	}
	defer r.Close()
	o = original{path: at, meta: r.Meta()}
	if c := r.Correction(); c != nil {
		o.remark = c.Remark()
	}
	visit, _ := dataset.VisitOf(&o.meta)
	return o, o.setVisit(visit)
}

// assign sets the dancer and the visit to those of the logbook.
func (o *original) assign(entry *logbook.Recording) error {
	o.meta.Dancer = entry.Dancer
	return o.setVisit(entry.VisitName)
}

// visitName has a day, and from the second visit of a day on a number.
var visitName = regexp.MustCompile(`^(\d{4}-\d{2}-\d{2})(?:-(\d{1,4}))?$`)

func (o *original) setVisit(name string) (err error) {
	parts := visitName.FindStringSubmatch(name)
	if parts == nil {
		return fmt.Errorf("its visit %.40q has no day that could be moved", name)
	}
	if o.day, err = logbook.ParseDay(parts[1]); err != nil {
		return err
	}
	o.number = 1
	if parts[2] != "" {
		o.number, err = strconv.Atoi(parts[2])
	}
	return err
}

// moved returns the shifted start of the recording.
func (d *deidentifier) moved(o *original) time.Time {
	return o.meta.Started.UTC().Add(-d.key.shiftOf(o.meta.Dancer).times)
}

func madeKey(dancer string, s *device.Strip) string { return dancer + "\x00" + dataset.ContentOf(s) }

// calibrations determines the days that replace those of calibrations, from all
// recordings of a dancer with a strip. It is an error where two codes are the same.
func (d *deidentifier) calibrations() error {
	uses := map[string][]use{}
	strips := map[string]*device.Strip{}
	for i := range d.originals {
		o := &d.originals[i]
		for _, side := range o.meta.Sides {
			if side != nil {
				key := madeKey(o.meta.Dancer, side.Strip)
				uses[key] = append(uses[key], use{o.meta.Started, d.moved(o)})
				strips[key] = side.Strip
			}
		}
	}
	d.made = map[string]device.Date{}
	for key, s := range strips {
		d.made[key] = d.madeFor(s, uses[key])
	}
	return d.codes.err
}

// meta returns the new description of a recording.
func (d *deidentifier) meta(o *original) device.Metadata {
	m := &o.meta
	now := device.Metadata{
		Dancer: d.codes.of("dancer", m.Dancer), Visit: logbook.Visit{Day: d.day(m.Dancer, o.day), Number: o.number}.Name(),
		Started: d.moved(o), Software: "aplomb " + software.This().String(),
		Support: d.known("support", m.Support, logbook.Supports[:]), Rise: d.known("rise", m.Rise, logbook.Rises[:]),
		Position: d.word("position", m.Position), Floor: d.word("floor", m.Floor), Feedback: d.known("feedback", m.Feedback, device.Feedbacks[:]),
		MassKG: mass(m.MassKG),
	}
	for f, side := range m.Sides {
		if side == nil {
			continue
		}
		now.Sides[f] = &device.Side{
			Strip: d.strip(side.Strip, d.made[madeKey(m.Dancer, side.Strip)]), Shoe: d.shoe(side.Shoe), Mark: side.Mark,
			Padding: d.word("padding", side.Padding), Mounting: d.codes.of("mounting", side.Mounting), Fixing: d.word("fixing", side.Fixing),
			Clock: d.known("clock", side.Clock, []string{"strip", "host"}), Format: d.known("format", side.Format, []string{"binary", "text", "csv"}), Baud: side.Baud,
		}
	}
	return now
}

// absoluteUS is the time from which a strip's clock is taken to count from 1970, µs:
// 2001. No strip runs for 31 years.
const absoluteUS = 1e15

// causes are the causes of events that the program writes; others may be free text.
var causes = []string{link.LostFrames, link.Damaged, link.BoardReset, link.StripPaused, link.LineSilent, link.CableOut, link.WrongStrip, recording.Damaged, device.TakenBack}

// write writes a recording again at a path, and beside it the retained part of its
// remark.
func (d *deidentifier) write(ctx context.Context, o *original, to string) error {
	by := d.key.shiftOf(o.meta.Dancer).times
	meta := d.meta(o)
	if meta.Started.Unix() <= 0 {
		return fmt.Errorf("it begins on %s: its clock was not set, and its times cannot be moved", o.meta.Started.UTC().Format(time.DateOnly))
	}
	as := recording.Rewriting{
		Meta: meta,
		Frame: func(f *device.Frame) {
			f.ArrivalNS -= by.Nanoseconds()
			if f.TimeUS > absoluteUS {
				f.TimeUS -= uint64(by.Microseconds())
			}
		},
		Event: func(e *device.Event) bool {
			e.TimeNS -= by.Nanoseconds()
			if !slices.Contains(causes, e.Cause) {
				e.Cause = ""
			}
			switch e.Kind {
			case device.Note:
				return d.words
			case device.Gap, device.Discard, device.Reconnect, device.Press:
				e.Text = "" // it can name ports
				return true
			}
			return false
		},
	}
	if err := os.MkdirAll(filepath.Dir(to), owneronly.Folder); err != nil {
		return err
	}
	file, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, owneronly.File)
	if err != nil {
		return err
	}
	defer file.Close()
	buffered := bufio.NewWriterSize(file, 1<<16)
	if err := recording.Rewrite(ctx, buffered, o.path, as); err != nil {
		return err
	}
	if err := cmp.Or(buffered.Flush(), file.Close()); err != nil {
		return err
	}
	remark := d.remark(o.remark)
	if remark.Empty() {
		return nil
	}
	id, err := recording.Identity(ctx, to)
	if err != nil {
		return err
	}
	data, err := correction.New(id, meta.Started).Add(correction.Entry{At: meta.Started, Remark: &remark}).Encode()
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(filepath.Dir(to), correction.Name(id)), data, owneronly.File)
}

// people sets the retained data of dancers, visits and studies.
func (d *deidentifier) people(p lookup.Kept) {
	for _, v := range p.Visits {
		d.Kept.Visits = append(d.Kept.Visits, d.visit(v))
	}
	slices.SortFunc(d.Kept.Visits, func(a, b logbook.Visit) int {
		return cmp.Or(cmp.Compare(a.Dancer, b.Dancer), cmp.Compare(a.Day, b.Day), cmp.Compare(a.Number, b.Number))
	})
	for _, s := range p.Studies {
		d.Kept.Studies = append(d.Kept.Studies, d.study(s))
	}
	slices.SortFunc(d.Kept.Studies, func(a, b dataset.Study) int { return cmp.Compare(a.Name, b.Name) })
	first := map[string]logbook.Day{} // by old code of the dancer
	for _, o := range d.originals {
		if day, ok := first[o.meta.Dancer]; !ok || o.day < day {
			first[o.meta.Dancer] = o.day
		}
	}
	for _, o := range p.Dancers {
		now := d.dancer(o)
		d.Kept.Dancers = append(d.Kept.Dancers, now)
		if day, ok := first[o.Code]; ok && o.BirthYear > 0 {
			d.AgeBands[now.Code] = ageBand(day.Time().Year() - o.BirthYear)
		}
	}
	slices.SortFunc(d.Kept.Dancers, func(a, b logbook.Dancer) int { return cmp.Compare(a.Code, b.Code) })
}
