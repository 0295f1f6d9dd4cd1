package manifest

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"aplomb/analyze/logbook"
	"aplomb/analyze/provenance"
	"aplomb/analyze/study"
	"aplomb/cmd/internal/batch"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/intake"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/text"
	"aplomb/device"
	"aplomb/device/recording"
	"aplomb/device/wire"
)

// checker checks the lines of one manifest.
type checker struct {
	study     study.Study
	folder    lookup.Folder
	labels    bool // the column label is there, and not shoe
	now       time.Time
	sources   map[string]int64 // recordings by the SHA-256 of their source files
	visits    []logbook.Visit
	withdrawn map[string]bool // dancers whose consent is withdrawn
	made      map[int64]logbook.Recording
	problems  []Problem
	sides     map[string][2]*device.Side // strips and shoes read before
}

func (c *checker) say(l *Line, format string, args ...any) {
	c.problems = append(c.problems, Problem{l.N, fmt.Sprintf(format, args...)})
}

// check checks all lines, and fills in omitted values.
func (c *checker) check(ctx context.Context, w io.Writer, lines []*Line) error {
	if err := c.read(); err != nil {
		return err
	}
	days, mountings, paths := map[string]*Line{}, map[string]*Line{}, map[string]*Line{}
	order := map[string]int{}
	for _, l := range lines {
		c.checkPlan(l)
		c.checkFiles(l)
		visit := fmt.Sprintf("%s, visit %d", l.Dancer, l.Visit)
		if first := days[visit]; first != nil && first.Day != "" && l.Day != "" && first.Day != l.Day {
			c.say(l, "%s is on %s, and on %s in line %d", visit, l.Day, first.Day, first.N)
		} else if first == nil || first.Day == "" {
			days[visit] = l
		}
		mounting := fmt.Sprintf("%s, %s, mounting %d", visit, c.shoeName(l), l.Mounting)
		if first := mountings[mounting]; first != nil {
			c.say(l, "%s is in line %d already", mounting, first.N)
		} else if l.Visit > 0 && l.Mounting > 0 {
			mountings[mounting] = l
		}
		for _, file := range l.files() {
			path := filepath.Clean(file.path)
			if first := paths[path]; first != nil {
				c.say(l, "%s is in line %d already", file.path, first.N)
			} else {
				paths[path] = l
			}
		}
		c.setStart(l, order[visit])
		order[visit]++
	}
	c.checkDays(days)
	if err := c.checkContents(ctx, w, lines); err != nil {
		return err
	}
	for _, l := range lines {
		if l.replaced != "" && l.known == 0 {
			c.say(l, "dancer %s dropped out of study %s, and %s has the row", l.Dancer, c.study.Name, l.replaced)
		}
		if c.withdrawn[l.Dancer] && l.known == 0 {
			c.say(l, "%s: aplomb study replace gives the row to another dancer", (&logbook.Dancer{Code: l.Dancer, Consent: logbook.ConsentWithdrawn}).CheckConsent())
		}
	}
	c.startAfterOthers(lines)
	return nil
}

// startAfterOthers delays lines without a start time by one minute for each recording of their
// visit that another manifest loaded, so that recordings are in the order in which manifests
// were loaded. A recording without known source files, as after a power failure, delays
// nothing, because its line must give the same recording again.
func (c *checker) startAfterOthers(lines []*Line) {
	others := map[string]int{}
	name := func(dancer string, visit int) string { return fmt.Sprintf("%s, visit %d", dancer, visit) }
	loaded := map[int64]bool{}
	for _, id := range c.sources {
		loaded[id] = true
	}
	for _, l := range lines {
		delete(loaded, l.known)
	}
	for id := range loaded {
		for _, v := range c.visits {
			if v.ID == c.made[id].VisitID {
				others[name(v.Dancer, v.OfStudy)]++
			}
		}
	}
	for _, l := range lines {
		if l.File == "" && l.begun == "" && !l.Started.IsZero() {
			l.Started = l.Started.Add(time.Duration(others[name(l.Dancer, l.Visit)]) * time.Minute)
		}
	}
}

// read reads the study's data from the logbook.
func (c *checker) read() error {
	c.made, c.sides = map[int64]logbook.Recording{}, map[string][2]*device.Side{}
	return c.folder.With(func(l *logbook.Logbook) (err error) {
		if c.sources, err = l.Sources(); err != nil {
			return err
		}
		if c.visits, err = l.StudyVisits(c.study.Name); err != nil {
			return err
		}
		if c.withdrawn, err = l.Withdrawn(); err != nil {
			return err
		}
		all, err := l.Recordings(logbook.Filter{})
		for _, r := range all {
			c.made[r.ID] = r
		}
		return err
	})
}

// shoeName names the shoe of a line as the manifest does.
func (c *checker) shoeName(l *Line) string {
	if c.labels {
		return "label " + c.study.Label(l.Shoe)
	}
	return "shoe " + l.Shoe
}

// checkPlan checks a line against the plan of the study.
func (c *checker) checkPlan(l *Line) {
	s := &c.study
	same := func(a, b string) bool { return strings.EqualFold(strings.TrimSpace(a), strings.TrimSpace(b)) }
	row := slices.IndexFunc(s.Rows, func(r study.Row) bool { return l.Dancer != "" && same(r.Dancer, l.Dancer) })
	switch {
	case l.Dancer == "":
		c.say(l, "no dancer")
	case row >= 0:
		l.Dancer = s.Rows[row].Dancer
	case s.Replaced(l.Dancer) != "":
		l.replaced = s.Replaced(l.Dancer) // what was loaded of the dancer before is no problem
	default:
		c.say(l, "dancer %.60q is not in study %s: aplomb study status %s shows who is", l.Dancer, s.Name, text.Quoted(s.Name))
	}
	shoe := slices.IndexFunc(s.Shoes, func(o study.Shoe) bool {
		if c.labels {
			return same(o.Label, l.Shoe)
		}
		return same(o.Code, l.Shoe)
	})
	switch {
	case l.Shoe == "":
		c.say(l, "no shoe")
	case shoe >= 0:
		l.Shoe = s.Shoes[shoe].Code
	case c.labels:
		c.say(l, "label %.60q is not in study %s", l.Shoe, s.Name)
	default:
		c.say(l, "shoe %.60q is not in study %s: aplomb study key %s --reason TEXT shows which are", l.Shoe, s.Name, text.Quoted(s.Name))
	}
	switch {
	case l.Visit == 0 && !l.badVisit:
		c.say(l, "no visit")
	case l.Visit > s.Visits:
		c.say(l, "visit %d: the study has %d of each dancer", l.Visit, s.Visits)
	}
	if l.Mounting > s.Mountings {
		c.say(l, "mounting %d: the study has %d of each shoe in a visit", l.Mounting, s.Mountings)
	}
	if l.Day != "" {
		if err := l.Day.CheckPast(logbook.DayOf(c.now)); err != nil {
			c.say(l, "day %s", err)
		}
	}
}

// checkFiles checks which files a line names.
func (c *checker) checkFiles(l *Line) {
	csv := l.CSV != [2]string{}
	switch {
	case l.File != "" && csv:
		c.say(l, "a recording and CSV files: name one or the other")
	case l.File == "" && !csv:
		c.say(l, "no file")
	case l.File != "" && !intake.IsRecording(l.File):
		c.say(l, "%s: a recording ends with .mcap", l.File)
	case l.File != "" && len(l.described) > 0:
		c.say(l, "a recording says itself how it was made: leave %s empty", strings.Join(l.described, ", "))
	case csv:
		for _, f := range device.Feet {
			if c.study.Feet[f] != (l.CSV[f] != "") {
				what := "no file of the %s foot, which the study records"
				if l.CSV[f] != "" {
					what = "a file of the %s foot, which the study does not record"
				}
				c.say(l, what, f)
			}
		}
	}
}

// setStart determines when a line was recorded, where that is not in the recording
// itself. n is the number of earlier lines of its visit.
func (c *checker) setStart(l *Line, n int) {
	if l.File != "" {
		return // of the recording, in checkRecording
	}
	if l.begun != "" {
		at, err := intake.ParseStart(l.begun, c.now)
		if err != nil {
			c.say(l, "%s", explain(err))
			return
		}
		l.Started = at
		l.Day = cmp.Or(l.Day, logbook.DayOf(at))
		if !l.Day.Around(at) {
			c.say(l, "started %s is not on day %s", l.begun, l.Day)
		}
		return
	}
	if l.Day == "" {
		if !slices.ContainsFunc(c.problems, func(p Problem) bool { return p.Line == l.N }) {
			c.say(l, "no day")
		}
		return
	}
	d := l.Day.Time()
	l.Started = time.Date(d.Year(), d.Month(), d.Day(), 12, n, 0, 0, c.now.Location())
}

// checkDays checks the days of visits against each other and against the logbook. days has a
// line of each visit.
func (c *checker) checkDays(days map[string]*Line) {
	names := slices.Sorted(maps.Keys(days))
	for _, name := range names {
		l := days[name]
		if l.Day == "" || l.Visit == 0 {
			continue
		}
		var others []logbook.Visit // of the dancer, in the study
		for _, v := range c.visits {
			if v.Dancer != l.Dancer {
				continue
			}
			if v.OfStudy == l.Visit && v.Day != l.Day {
				c.say(l, "%s was on %s, not on %s", name, v.Day, l.Day)
			}
			others = append(others, v)
		}
		for _, other := range names {
			if o := days[other]; o.Dancer == l.Dancer && o.Day != "" && o.Visit < l.Visit {
				others = append(others, logbook.Visit{OfStudy: o.Visit, Day: o.Day})
			}
		}
		for _, o := range others {
			if o.OfStudy < l.Visit && l.Day < o.Day {
				c.say(l, "%s is on %s, before visit %d on %s", name, l.Day, o.OfStudy, o.Day)
				break
			}
			if o.OfStudy > l.Visit && l.Day > o.Day {
				c.say(l, "%s is on %s, after visit %d on %s", name, l.Day, o.OfStudy, o.Day)
				break
			}
		}
	}
}

// checkContents reads the files and checks whether they agree with their lines, and
// whether they are already in the logbook.
func (c *checker) checkContents(ctx context.Context, w io.Writer, lines []*Line) error {
	progress := console.NewProgress(w)
	defer progress.Clear()
	begun := 0
	bad := map[int]bool{}
	for _, p := range c.problems {
		bad[p.Line] = true
	}
	first := map[string]*Line{} // by the SHA-256 of a file
	type content struct {
		sums map[device.Foot]string
		errs []error
	}
	err := batch.InOrder(ctx, len(lines), func(int) {
		begun++
		progress.Show("checking line %d of %d", begun, len(lines))
	}, func(ctx context.Context, i int) (read content, err error) {
		read.sums = map[device.Foot]string{}
		for _, file := range lines[i].files() {
			sum, _, err := provenance.SHA256(ctx, file.path)
			if err != nil {
				read.errs = append(read.errs, err)
			}
			read.sums[file.foot] = sum
		}
		return read, ctx.Err()
	}, func(i int, read content, err error) error {
		l := lines[i]
		if err != nil {
			return nil // of ctx
		}
		for _, err := range read.errs {
			c.say(l, "%s", explain(err))
		}
		if len(read.errs) > 0 {
			return nil
		}
		l.sums = read.sums
		for _, file := range l.files() {
			sum := l.sums[file.foot]
			other := first[sum]
			switch {
			case other == nil:
				first[sum] = l
				continue
			case other == l:
				c.say(l, "%s has the same content as the file of the other foot", file.path)
			case !slices.ContainsFunc(other.files(), func(o source) bool { return o.path == file.path }): // otherwise it was already reported
				c.say(l, "%s has the same content as a file in line %d", file.path, other.N)
			}
			return nil
		}
		if c.isKnown(l) || bad[l.N] {
			return nil
		}
		if l.File != "" {
			c.checkRecording(ctx, l)
		} else {
			c.checkCSV(ctx, l)
		}
		return nil
	})
	return err
}

// isKnown reports whether the files of a line were imported before, and checks that this
// was with the same description.
func (c *checker) isKnown(l *Line) bool {
	known := 0
	for _, file := range l.files() {
		id, ok := c.sources[l.sums[file.foot]]
		if !ok {
			continue
		}
		known++
		r := c.made[id]
		at := slices.IndexFunc(c.visits, func(v logbook.Visit) bool { return v.ID == r.VisitID })
		switch {
		case l.known != 0 && l.known != id:
			c.say(l, "its files are in the logbook as recordings %d and %d", min(l.known, id), max(l.known, id))
		case at < 0 || r.Dancer != l.Dancer || c.visits[at].OfStudy != l.Visit || !madeIn(r, l.Shoe):
			c.say(l, "%s is in the logbook as recording %d, of another visit, dancer or shoe", file.path, id)
		}
		l.known = id
	}
	if known > 0 && known < len(l.sums) {
		c.say(l, "one of its files is in the logbook as recording %d, the other is not", l.known)
	}
	return known > 0
}

// madeIn reports whether a foot of a recording wore a shoe.
func madeIn(r logbook.Recording, shoe string) bool {
	return slices.ContainsFunc(r.Feet[:], func(f *logbook.RecordedFoot) bool { return f != nil && f.Shoe == shoe })
}

// checkCSV checks strips, conditions and the first frame of the CSV files of a line.
func (c *checker) checkCSV(ctx context.Context, l *Line) {
	l.setup.Dancer, l.setup.Shoe, l.setup.Logbook = l.Dancer, l.Shoe, c.folder
	if l.setup.Feedback == device.FeedbackLive {
		c.say(l, "feedback live is practice: it enters no study")
	}
	feet := [2]bool{l.CSV[device.Left] != "", l.CSV[device.Right] != ""}
	name := fmt.Sprint(feet, l.Shoe, l.setup.Strips)
	if _, read := c.sides[name]; !read {
		sides, err := l.setup.Sides(ctx, feet)
		if err != nil {
			c.say(l, "%s", explain(err))
			return
		}
		c.sides[name] = sides
	}
	for f, typed := range l.strips {
		if side := c.sides[name][f]; typed != "" && !lookup.IsFile(typed) && (side == nil || !strings.EqualFold(side.Strip.Name, typed)) {
			c.say(l, "strip %s is not for the %s foot", typed, device.Foot(f))
			return
		}
	}
	l.setup.UseSides(c.sides[name])
	m, err := l.setup.Metadata(ctx, l.Started, feet)
	if err == nil {
		files := l.CSV
		err = intake.Assign(&files, nil, &m)
	}
	if err == nil {
		_, err = intake.ParsePresses(l.presses, &m)
	}
	if err != nil {
		c.say(l, "%s", explain(err))
		return
	}
	for _, f := range device.Feet {
		if l.CSV[f] == "" {
			continue
		}
		if err := firstFrame(ctx, l.CSV[f], m.Sides[f].Strip); err != nil {
			c.say(l, "%s", explain(err))
		}
	}
}

// firstFrame reads the first frame of a CSV file, which fails unless it fits the strip.
func firstFrame(ctx context.Context, path string, strip *device.Strip) error {
	file, err := wire.OpenCSV(ctx, path, strip, 0)
	if err != nil {
		return err
	}
	defer file.Close()
	var f device.Frame
	return file.Next(&f)
}

// checkRecording compares the metadata of a recording with its line.
func (c *checker) checkRecording(ctx context.Context, l *Line) {
	err := cmp.Or(logbook.CheckEnded(l.File), intake.CheckFrames(ctx, l.File))
	if err != nil {
		c.say(l, "%s", explain(err))
		return
	}
	r, err := recording.Open(ctx, l.File)
	if err != nil {
		c.say(l, "%s", explain(err))
		return
	}
	defer r.Close()
	m := r.Meta()
	const correct = "(aplomb logbook relabel FILE corrects what a recording says wrongly)"
	if m.Dancer != "" && !strings.EqualFold(m.Dancer, l.Dancer) {
		c.say(l, "%s is of dancer %.60q %s", l.File, m.Dancer, correct)
	}
	if m.Feedback == device.FeedbackLive {
		c.say(l, "%s is practice with live feedback: it enters no study", l.File)
	}
	for _, f := range device.Feet {
		switch side := m.Sides[f]; {
		case side == nil && c.study.Feet[f]:
			c.say(l, "%s: no %s foot in it, which the study records", l.File, f)
		case side != nil && !strings.EqualFold(side.Shoe.Code, l.Shoe):
			if c.labels {
				c.say(l, "%s: the %s foot wore another shoe %s", l.File, f, correct)
			} else {
				c.say(l, "%s: the %s foot wore shoe %s %s", l.File, f, side.Shoe.Code, correct)
			}
		}
	}
	l.Started, l.visit = m.Started, m.Visit
	l.Day = cmp.Or(l.Day, logbook.DayOf(m.Started.In(c.now.Location())))
	if m.Visit != "" && !strings.HasPrefix(m.Visit, string(l.Day)) {
		c.say(l, "%s was made in visit %s, not on %s", l.File, m.Visit, l.Day)
	}
	if !l.Day.Around(m.Started) {
		c.say(l, "%s was recorded on %s, not on %s", l.File, logbook.DayOf(m.Started.In(c.now.Location())), l.Day)
	}
}

// explain returns an error in one line, which does not begin like a flag: lines of a manifest
// have columns.
func explain(err error) string {
	if errors.Is(err, context.Canceled) {
		return "stopped"
	}
	return strings.TrimPrefix(console.Explain(err), "--")
}
