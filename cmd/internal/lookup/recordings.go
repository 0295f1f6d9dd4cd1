package lookup

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"aplomb/analyze/dataset"
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/analyze/mounting"
	"aplomb/analyze/scale"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/device"
)

// Choice selects the recordings of a command: files, or those in the logbook of a
// dancer, a visit or a shoe.
type Choice struct {
	Folder              Folder
	Dancer, Visit, Shoe string // Visit may be "all"
	Rejected            bool   // include recordings that were decided not to be used
	Now                 time.Time
}

// AllVisits is the argument for every visit of a dancer.
const AllVisits = "all"

// narrow restricts the recordings to the last visit where none was given, since chosen
// recordings are pooled, and days differ. It returns a usage error for recordings of
// several dancers.
func (c *Choice) narrow(p *Recordings) error {
	var dancers []string
	visits := map[int64]bool{}
	for _, r := range p.Entries {
		visits[r.VisitID] = true
		if !slices.Contains(dancers, r.Dancer) {
			dancers = append(dancers, r.Dancer)
		}
	}
	if len(dancers) > 1 {
		return usage.Errorf("--shoe %s: recordings of %d dancers, such as %s and %s: whose? Say --dancer CODE too", c.Shoe, len(dancers), dancers[0], dancers[1])
	}
	if c.Visit != "" || len(visits) < 2 {
		return nil
	}
	last := p.Entries[len(p.Entries)-1]
	p.Entries = slices.DeleteFunc(p.Entries, func(r logbook.Recording) bool { return r.VisitID != last.VisitID })
	p.Note = fmt.Sprintf("visit %s, the last of %d; --visit names another, --visit all takes all together", last.VisitName, len(visits))
	if c.Dancer == "" {
		p.Note = fmt.Sprintf("visit %s of dancer %s, the last of %d in shoe %s; --dancer %s --visit all takes all together", last.VisitName, last.Dancer, len(visits), c.Shoe, text.Quoted(last.Dancer))
	}
	return nil
}

// leaveOutRejected removes the recordings that were decided not to be used, and records
// which. It returns an error where none is left.
func (p *Recordings) leaveOutRejected() error {
	var numbers []string
	p.Entries = slices.DeleteFunc(p.Entries, func(r logbook.Recording) bool {
		if r.Remark.Rejected() {
			numbers = append(numbers, strconv.FormatInt(r.ID, 10))
		}
		return r.Remark.Rejected()
	})
	switch {
	case len(numbers) == 0:
	case len(p.Entries) == 0:
		return fmt.Errorf("every recording is one that somebody decided not to use: %s (aplomb fitting takes that back, by undo)", strings.Join(numbers, ", "))
	default:
		p.addNote("left out, as decided: recording " + strings.Join(numbers, ", "))
	}
	return nil
}

// addNote adds a line to the note.
func (p *Recordings) addNote(line string) {
	if p.Note != "" {
		line = p.Note + "\n" + line
	}
	p.Note = line
}

// leaveOutWithdrawn removes the recordings of dancers whose consent is withdrawn, and
// returns the number of these dancers. It returns an error where no other are left.
func (p *Recordings) leaveOutWithdrawn(l *logbook.Logbook) (dancers int, err error) {
	gone, err := l.Withdrawn()
	if err != nil {
		return 0, err
	}
	left := map[string]bool{}
	p.Entries = slices.DeleteFunc(p.Entries, func(r logbook.Recording) bool {
		if gone[r.Dancer] {
			left[r.Dancer] = true
		}
		return gone[r.Dancer]
	})
	if len(p.Entries) > 0 || len(left) == 0 {
		return len(left), nil
	}
	d, err := l.Dancer(slices.Min(slices.Collect(maps.Keys(left))))
	return 0, cmp.Or(err, CheckConsent(d))
}

// Check returns a usage error unless recordings are chosen in exactly one way: by the
// files in args, or by codes.
func (c *Choice) Check(args []string) error {
	byCode := c.Dancer != "" || c.Visit != "" || c.Shoe != ""
	switch {
	case len(args) == 0 && !byCode:
		return usage.Errorf("name at least one recording, such as a1.mcap, or a dancer with --dancer CODE")
	case len(args) > 0 && byCode:
		return usage.Errorf("%s: name files, or choose from the logbook with --dancer and the like, not both", args[0])
	case c.Visit != "" && c.Dancer == "":
		return usage.Errorf("--visit %s: whose visit? Say --dancer CODE too", c.Visit)
	}
	for _, arg := range args {
		if _, err := os.Stat(arg); errors.Is(err, fs.ErrNotExist) && !strings.ContainsAny(arg, `./\`) {
			return usage.Errorf("%.40q is no file: name recordings by their files, such as a1.mcap, or choose from the logbook with --dancer CODE", arg)
		}
	}
	return nil
}

// CheckAll is Check for a command that uses every recording of the logbook by default.
func (c *Choice) CheckAll(args []string) error {
	if len(args) == 0 && c.Visit == "" {
		return nil
	}
	return c.Check(args)
}

// Kept contains recordings with the data of their visits and dancers in the logbook.
type Kept struct {
	Recordings
	Visits  []logbook.Visit  // by dancer and day
	Dancers []logbook.Dancer // by code
	Studies []dataset.Study  // by name, those of Visits
}

// All returns the recordings: the files in args, or all those in the logbook that match
// the choice, of any dancer and visit, including those that were decided not to be used.
func (c *Choice) All(args []string) (p Kept, err error) {
	if len(args) > 0 {
		return Kept{Recordings: Recordings{Paths: args}}, nil
	}
	err = c.Folder.With(func(l *logbook.Logbook) error {
		which, said, err := c.Filter(l)
		if err != nil {
			return err
		}
		if p.Entries, err = l.Recordings(which); err != nil {
			return err
		}
		if len(p.Entries) == 0 {
			return errors.New("no recordings" + said + " in the logbook")
		}
		for _, r := range p.Entries {
			p.Paths = append(p.Paths, r.Path)
		}
		if p.Checks, err = l.StripChecks(""); err != nil {
			return err
		}
		if err := p.addPeople(l); err != nil {
			return err
		}
		return p.addStudies(l)
	})
	return p, err
}

// addPeople adds the visits and the dancers of the recordings.
func (p *Kept) addPeople(l *logbook.Logbook) error {
	all, err := l.Dancers()
	if err != nil {
		return err
	}
	for _, d := range all {
		if !slices.ContainsFunc(p.Entries, func(r logbook.Recording) bool { return r.Dancer == d.Code }) {
			continue
		}
		p.Dancers = append(p.Dancers, d)
		visits, err := l.Visits(d.Code)
		if err != nil {
			return err
		}
		for _, v := range visits {
			if slices.ContainsFunc(p.Entries, func(r logbook.Recording) bool { return r.VisitID == v.ID }) {
				p.Visits = append(p.Visits, v)
			}
		}
	}
	return nil
}

// addStudies adds the studies of the visits.
func (p *Kept) addStudies(l *logbook.Logbook) error {
	all, err := l.Studies()
	if err != nil {
		return err
	}
	for _, s := range all {
		if !p.Has(s.Name) {
			continue
		}
		made, err := l.StudyMade(s.Name)
		if err != nil {
			return err
		}
		p.Studies = append(p.Studies, dataset.Study{Study: s, Before: s.Follow(made).Before, Unblinded: s.Compared()})
	}
	return nil
}

// Has reports whether one of the visits belongs to the study of that name.
func (p *Kept) Has(study string) bool {
	return slices.ContainsFunc(p.Visits, func(v logbook.Visit) bool { return v.Study == study })
}

// Recordings are recordings that were chosen.
type Recordings struct {
	Paths   []string
	Entries []logbook.Recording     // the same recordings in the logbook; nil where files were named
	Visits  map[int64]logbook.Visit // those of Entries, by VisitID
	Stop    string                  // the advice to stop because of pain; "" for none
	Earlier []mounting.Row          // relevés of the other recordings of the logbook, for estimating mounting effects
	Checks  []scale.Check           // of all strips of the logbook
	Agreed  []measure.Agreement     // of all strips of the logbook with reference instruments
	LeftOut int                     // recordings that could not be measured and are not in Paths
	Note    string                  // which visit was chosen by default, and how to choose another; "" otherwise
}

// Find returns the recordings: the files in args, or those in the logbook in the order in
// which they were made. Where the logbook has none it returns an error, and still sets
// Stop to that of the visit.
func (c *Choice) Find(args []string) (p Recordings, err error) {
	if len(args) > 0 {
		return Recordings{Paths: args}, nil
	}
	err = c.Folder.With(func(l *logbook.Logbook) error {
		which, said, err := c.Filter(l)
		if err != nil {
			return err
		}
		if p.Entries, err = l.Recordings(which); err != nil {
			return err
		}
		withdrawn, err := p.leaveOutWithdrawn(l)
		if err == nil && len(p.Entries) > 0 {
			err = c.narrow(&p)
		}
		if withdrawn > 0 {
			p.addNote(LeftOutWithdrawn(withdrawn))
		}
		if err == nil {
			err = p.addVisits(l, which)
		}
		switch {
		case err != nil:
		case len(p.Entries) == 0:
			said = "no recordings" + said + " in the logbook"
			if p.Stop != "" {
				said += ". " + p.Stop
			}
			err = errors.New(said)
		case !c.Rejected:
			err = p.leaveOutRejected()
		}
		if err != nil {
			return err
		}
		var dancers []string
		for _, r := range p.Entries {
			p.Paths = append(p.Paths, r.Path)
			if !slices.Contains(dancers, r.Dancer) {
				dancers = append(dancers, r.Dancer)
			}
		}
		if p.Earlier, err = l.MountingRows(dancers, p.Entries); err != nil {
			return err
		}
		if p.Checks, err = l.StripChecks(""); err != nil {
			return err
		}
		p.Agreed, err = l.Agreements("")
		return err
	})
	return p, err
}

// addVisits adds the visits of the recordings, and the advice to stop: that of the last
// of them, else that of the dancer's last visit, which may have no recordings.
func (p *Recordings) addVisits(l *logbook.Logbook, which logbook.Filter) (err error) {
	p.Visits = map[int64]logbook.Visit{}
	of := which.VisitID
	for _, r := range p.Entries {
		of, which.Dancer = r.VisitID, r.Dancer
		if p.Visits[of], err = l.Visit(of); err != nil {
			return err
		}
	}
	if of != 0 {
		chosen, err := l.Visit(of)
		if err != nil {
			return err
		}
		if p.Stop = chosen.Advice(); p.Stop != "" {
			return nil
		}
	}
	if which.Dancer == "" {
		return nil
	}
	all, err := l.Visits(which.Dancer)
	if err != nil || len(all) == 0 {
		return err
	}
	if last := all[len(all)-1]; last.ID != of && last.Advice() != "" {
		p.Stop = fmt.Sprintf("%s That is of visit %s, the dancer's last.", last.Advice(), last.Name())
	}
	return nil
}

// Filter returns the filter for the recordings in the logbook; said is the filter in
// words.
func (c *Choice) Filter(l *logbook.Logbook) (f logbook.Filter, said string, err error) {
	if c.Dancer != "" {
		d, err := l.Dancer(c.Dancer)
		if err != nil {
			return f, "", Hint(err, "aplomb dancer list")
		}
		f.Dancer, said = d.Code, " of dancer "+d.Code
	}
	if c.Visit != "" && c.Visit != AllVisits {
		v, err := Visit(l, c.Dancer, c.Visit, c.Now)
		if err != nil {
			return f, "", err
		}
		f.VisitID, said = v.ID, said+" in visit "+v.Name()
	}
	if c.Shoe != "" {
		s, err := l.Shoe(c.Shoe)
		if err != nil {
			return f, "", Hint(err, "aplomb shoe list")
		}
		f.Shoe, said = s.Code, said+" in shoe "+s.Code
	}
	return f, said, nil
}

// Spelt returns a shoe's code in the logbook's spelling.
func (p Recordings) Spelt(code string) string {
	for _, r := range p.Entries {
		for _, f := range r.Feet {
			if f != nil && strings.EqualFold(f.Shoe, code) {
				return f.Shoe
			}
		}
	}
	return code
}

// Saw returns the observations in the recordings of each shoe, by its code.
func (p Recordings) Saw() map[string][]string {
	all := map[string][]string{}
	for _, r := range p.Entries {
		for _, f := range r.Feet {
			if f == nil {
				continue
			}
			for _, one := range r.Remark.Saw {
				if !slices.Contains(all[f.Shoe], one) {
					all[f.Shoe] = append(all[f.Shoe], one)
				}
			}
		}
	}
	return all
}

// Name names each result by its recording's number in the logbook, which is an argument
// of aplomb show.
func (p Recordings) Name(results []*measure.Result) {
	for i := range p.Entries {
		results[i].Recording.File = p.NameOf(i)
	}
}

// NameOf names the recording at i: by its number in the logbook, or by its file.
func (p Recordings) NameOf(i int) string {
	if len(p.Entries) > 0 {
		return fmt.Sprintf("recording %d", p.Entries[i].ID)
	}
	return filepath.Base(p.Paths[i])
}

// Title names the recording of r, the result at i.
func (p Recordings) Title(i int, r *measure.Result) string {
	if len(p.Entries) > 0 {
		return "recording " + text.RecordingName(p.Entries[i])
	}
	title := r.Recording.File
	if r.Recording.Dancer != "" {
		title += ", dancer " + r.Recording.Dancer
	}
	for _, f := range device.Feet {
		if shoe := r.Recording.Shoes.Of(f); shoe != nil {
			title += fmt.Sprintf(", %s shoe %s", f, *shoe)
		}
	}
	return title
}

// Numbers returns a sentence that names the recordings of the logbook from which an
// answer comes, "" for files.
func (p Recordings) Numbers() string {
	var all []string
	for _, r := range p.Entries {
		all = append(all, fmt.Sprint(r.ID))
	}
	switch len(all) {
	case 0:
		return ""
	case 1:
		return "From recording " + all[0] + " in the logbook: aplomb show " + all[0] + " says more."
	}
	last := len(all) - 1
	return "From recordings " + strings.Join(all[:last], ", ") + " and " + all[last] + " in the logbook: aplomb show NUMBER says more of each."
}
