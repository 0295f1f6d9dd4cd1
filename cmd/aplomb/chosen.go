package main

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/device"
)

// chosen is which recordings a command is about: files, or what the logbook has
// of a dancer, of a visit, of a shoe.
type chosen struct {
	book                book
	dancer, visit, shoe string
	now                 func() time.Time
}

func choosing(o outside) *chosen { return &chosen{now: o.now} }

func (c *chosen) flags(cmd *cobra.Command) {
	c.flagsButShoe(cmd)
	cmd.Flags().StringVar(&c.shoe, "shoe", "", "`CODE` of a shoe: recordings in it, from the logbook")
	complete(cmd, "shoe", c.book.codes(shoeCodes))
}

func (c *chosen) flagsButShoe(cmd *cobra.Command) {
	cmd.Flags().StringVar(&c.dancer, "dancer", "", "`CODE` of a dancer: recordings of theirs, from the logbook")
	cmd.Flags().StringVar(&c.visit, "visit", "", "only those of one `VISIT`: today, last or its name")
	c.book.flag(cmd)
	complete(cmd, "dancer", c.book.codes(dancerCodes))
	complete(cmd, "visit", c.book.codes(visitNames))
}

// args takes the names of recordings, or none where codes say which.
func (c *chosen) args(cmd *cobra.Command, args []string) error {
	byCode := c.dancer != "" || c.visit != "" || c.shoe != ""
	switch {
	case len(args) == 0 && !byCode:
		return misused("name at least one recording, such as a1.mcap, or a dancer with --dancer CODE")
	case len(args) > 0 && byCode:
		return misused("%s: name files, or choose from the logbook with --dancer and the like, not both", args[0])
	case c.visit != "" && c.dancer == "":
		return misused("--visit %s: whose visit? Say --dancer CODE too", c.visit)
	}
	return nil
}

// picked is recordings to look at.
type picked struct {
	paths   []string
	entries []logbook.Recording // the same in the logbook; nil where files were named
	pain    bool                // the last of their visits asks to stop
}

// pick finds the recordings: the files that were named, or those in the logbook
// in the order they were made.
func (c *chosen) pick(args []string) (p picked, err error) {
	if len(args) > 0 {
		return picked{paths: args}, nil
	}
	err = c.book.with(func(l *logbook.Logbook) error {
		which, said, err := c.filter(l)
		if err != nil {
			return typedWrong(err)
		}
		p.entries, err = l.Recordings(which)
		if err == nil && len(p.entries) == 0 {
			err = errors.New("no recordings" + said + " in the logbook")
		}
		for _, r := range p.entries {
			p.paths = append(p.paths, r.Path)
		}
		if err != nil {
			return err
		}
		last, err := l.Visit(p.entries[len(p.entries)-1].VisitID)
		p.pain = last.Advice() != ""
		return err
	})
	return p, err
}

// filter says which recordings are meant, also in words.
func (c *chosen) filter(l *logbook.Logbook) (f logbook.Filter, said string, err error) {
	if c.dancer != "" {
		d, err := l.Dancer(c.dancer)
		if err != nil {
			return f, "", listed(err, "aplomb dancer list")
		}
		f.Dancer, said = d.Code, " of dancer "+d.Code
	}
	if c.visit != "" {
		v, err := findVisit(l, c.dancer, c.visit, c.now())
		if err != nil {
			return f, "", err
		}
		f.VisitID, said = v.ID, said+" in visit "+v.Name()
	}
	if c.shoe != "" {
		s, err := l.Shoe(c.shoe)
		if err != nil {
			return f, "", listed(err, "aplomb shoe list")
		}
		f.Shoe, said = s.Code, said+" in shoe "+s.Code
	}
	return f, said, nil
}

// spelt returns a shoe's code as the logbook writes it, however it was typed.
func (p picked) spelt(code string) string {
	for _, r := range p.entries {
		for _, f := range r.Feet {
			if f != nil && strings.EqualFold(f.Shoe, code) {
				return f.Shoe
			}
		}
	}
	return code
}

// name calls results by their numbers in the logbook, by which show finds them.
func (p picked) name(results []*measure.Result) {
	for i, r := range p.entries {
		results[i].Recording.File = fmt.Sprintf("recording %d", r.ID)
	}
}

// title says which recording the result at i is of.
func (p picked) title(i int, r *measure.Result) string {
	if len(p.entries) > 0 {
		return "recording " + recordingWords(p.entries[i])
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

// numbers says which recordings of the logbook an answer is from, "" for files.
func (p picked) numbers() string {
	var all []string
	for _, r := range p.entries {
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
