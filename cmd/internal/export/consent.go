package export

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"aplomb/analyze/dataset"
	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/text"
	"aplomb/device/recording"
	"aplomb/plots/words"
)

// Consent specifies which consent of a dancer a package needs.
type Consent struct {
	Sharing   bool // it is passed on: consent to sharing
	Elsewhere bool // without a recorded consent: it is documented elsewhere
}

// leftOut lists the recordings that are left out because of the consent of their dancers,
// for one reason.
type leftOut struct {
	because    string
	recordings int
	dancers    []string // codes
}

// Obey returns p without the recordings of dancers whose consent does not cover the
// package. It writes to w how many are left out and why, with the codes of the dancers,
// and returns the same without codes as a chapter of README.md, "" where none is left
// out. For the dancer of a file it uses the consent in the logbook for that code, where
// there is a logbook.
func (need Consent) Obey(ctx context.Context, w io.Writer, folder *lookup.Folder, p lookup.Kept) (_ lookup.Kept, about string, err error) {
	if len(p.Entries) > 0 || !folder.Exists() {
		return need.sort(ctx, w, p, func(code string) (logbook.Dancer, error) {
			for _, d := range p.Dancers {
				if d.Code == code {
					return d, nil
				}
			}
			return logbook.Dancer{}, nil
		})
	}
	var kept lookup.Kept
	err = folder.With(func(l *logbook.Logbook) (err error) {
		kept, about, err = need.sort(ctx, w, p, func(code string) (logbook.Dancer, error) {
			d, err := l.Dancer(code)
			if errors.Is(err, logbook.ErrNotFound) {
				return logbook.Dancer{}, nil
			}
			return d, err
		})
		return err
	})
	return kept, about, err
}

// sort is Obey with a function that returns the dancer with a code, an empty one where
// unknown.
func (need Consent) sort(ctx context.Context, w io.Writer, p lookup.Kept, dancerOf func(code string) (logbook.Dancer, error)) (kept lookup.Kept, about string, err error) {
	var left []leftOut
	gone := map[string]bool{} // codes
	kept = p
	kept.Paths, kept.Entries = nil, nil
	for i, at := range p.Paths {
		code := ""
		if len(p.Entries) > 0 {
			code = p.Entries[i].Dancer
		} else if r, err := recording.Open(ctx, at); err == nil { // unreadable files are named later
			code = r.Meta().Dancer
			r.Close()
		}
		d, err := dancerOf(code)
		if err != nil {
			return p, "", err
		}
		because := need.objection(d.Consent)
		if because == "" {
			kept.Paths = append(kept.Paths, at)
			if len(p.Entries) > 0 {
				kept.Entries = append(kept.Entries, p.Entries[i])
			}
			continue
		}
		gone[d.Code] = true
		k := slices.IndexFunc(left, func(l leftOut) bool { return l.because == because })
		if k < 0 {
			k, left = len(left), append(left, leftOut{because: because})
		}
		left[k].recordings++
		if !slices.Contains(left[k].dancers, code) {
			left[k].dancers = append(left[k].dancers, code)
		}
	}
	kept.Dancers = slices.DeleteFunc(slices.Clone(p.Dancers), func(d logbook.Dancer) bool { return gone[d.Code] })
	kept.Visits = slices.DeleteFunc(slices.Clone(p.Visits), func(v logbook.Visit) bool { return gone[v.Dancer] })
	kept.Studies = slices.DeleteFunc(slices.Clone(p.Studies), func(s dataset.Study) bool { return !kept.Has(s.Name) })
	for _, l := range left {
		slices.Sort(l.dancers)
		fmt.Fprintf(w, "left out: %s (%s): %s\n", l.counted(), strings.Join(named(l.dancers), ", "), l.because)
		about += text.Item("- ", l.counted()+": "+l.because) + "\n"
	}
	if about != "" {
		about = "## Left out\n\nFor want of consent:\n\n" + about
	}
	if len(left) > 0 && len(kept.Paths) == 0 {
		advice := ""
		if slices.ContainsFunc(left, func(l leftOut) bool { return l.because == unrecorded }) {
			advice = ": aplomb dancer edit CODE --consent sharing records a consent, and --consent-elsewhere says that it is kept elsewhere"
		}
		return kept, about, errors.New("no dancer's consent covers what is asked for, and nothing is exported" + advice)
	}
	return kept, about, nil
}

func (l leftOut) counted() string {
	return words.Count(l.recordings, "recording", "recordings") + " of " + words.Count(len(l.dancers), "dancer", "dancers")
}

// named returns the codes of dancers for people.
func named(codes []string) (all []string) {
	for _, code := range codes {
		if code == "" {
			code = "without a code"
		}
		all = append(all, code)
	}
	return all
}

// Reasons for leaving recordings out because of consent.
const (
	withdrawn  = "consent is withdrawn"
	studyOnly  = "consent is to the study, and not to sharing"
	unrecorded = "no consent to sharing is recorded"
)

// objection returns the reason why a consent does not cover the package, "" where it
// does.
func (need Consent) objection(consent string) string {
	switch {
	case consent == logbook.ConsentWithdrawn:
		return withdrawn
	case !need.Sharing || consent == logbook.ConsentSharing:
		return ""
	case consent == logbook.ConsentStudy:
		return studyOnly
	case need.Elsewhere:
		return ""
	}
	return unrecorded
}
