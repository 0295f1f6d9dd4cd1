package lookup

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/console"
	"aplomb/cmd/internal/text"
	"aplomb/cmd/internal/usage"
	"aplomb/plots/words"
)

// Visit returns the visit of a dancer that name means: "last", "today" for the last
// one of today, or the visit's own name.
func Visit(l *logbook.Logbook, dancer, name string, now time.Time) (logbook.Visit, error) {
	all, err := l.Visits(dancer)
	if err != nil {
		return logbook.Visit{}, Hint(err, "aplomb dancer list")
	}
	switch name {
	case "last":
		if len(all) == 0 {
			return logbook.Visit{}, fmt.Errorf("dancer %s has no visit yet: aplomb visit add --dancer %s adds one", dancer, text.Quoted(dancer))
		}
		return all[len(all)-1], nil
	case "today":
		today := logbook.DayOf(now)
		for i := len(all) - 1; i >= 0; i-- {
			if all[i].Day == today {
				return all[i], nil
			}
		}
		return logbook.Visit{}, fmt.Errorf("dancer %s has no visit today, %s: aplomb visit add --dancer %s adds one", dancer, today, text.Quoted(dancer))
	}
	v, err := l.VisitNamed(dancer, name)
	return v, Hint(err, "aplomb visit list --dancer "+text.Quoted(dancer))
}

// Recording returns the recording whose number was typed.
func Recording(l *logbook.Logbook, typed string) (logbook.Recording, error) {
	id, err := strconv.ParseInt(typed, 10, 64)
	if err != nil || id < 1 {
		return logbook.Recording{}, usage.Errorf("%.40q: recordings go by a number, such as 12", typed)
	}
	r, err := l.Recording(id)
	return r, Hint(err, "aplomb show")
}

// Shoes returns the codes of the shoes that were typed, as the logbook writes them.
// A code may have a comma in it; otherwise commas separate codes.
func Shoes(l *logbook.Logbook, typed []string) (codes []string, err error) {
	for _, one := range typed {
		names := []string{one}
		if _, err := l.Shoe(one); errors.Is(err, logbook.ErrNotFound) { // or it is a code with a comma in it
			names = List(one)
		}
		for _, name := range names {
			s, err := l.Shoe(name)
			if err != nil {
				return nil, Hint(err, "aplomb shoe list")
			}
			codes = append(codes, s.Code)
		}
	}
	return codes, nil
}

// List splits a list at its commas.
func List(typed string) (all []string) {
	for _, one := range strings.Split(typed, ",") {
		all = append(all, strings.TrimSpace(one))
	}
	return all
}

// CheckConsent returns an error where the consent of a dancer is withdrawn: nothing is
// recorded of the dancer any more, and no result is made.
func CheckConsent(d logbook.Dancer) error {
	if err := d.CheckConsent(); err != nil {
		return &console.Remedy{Err: fmt.Errorf("%w, and nothing is made of the recordings", err), Do: fmt.Sprintf("aplomb dancer edit %s --consent study records that the dancer agrees again, and aplomb dancer remove %s erases them", text.Quoted(d.Code), text.Quoted(d.Code))}
	}
	return nil
}

// LeftOutWithdrawn returns the remark that dancers were left out because their consent is
// withdrawn.
func LeftOutWithdrawn(dancers int) string {
	return "left out, consent withdrawn: " + words.Count(dancers, "dancer", "dancers")
}

// Dancer returns the dancer whose code was typed.
func Dancer(l *logbook.Logbook, code string) (logbook.Dancer, error) {
	d, err := l.Dancer(code)
	return d, Hint(err, "aplomb dancer list")
}
