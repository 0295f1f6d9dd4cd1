package main

import (
	"fmt"
	"strconv"
	"time"

	"aplomb/device/logbook"
)

// findVisit finds a visit of a dancer: the last one, the last one of today, or
// the one of that name.
func findVisit(l *logbook.Logbook, dancer, name string, now time.Time) (logbook.Visit, error) {
	all, err := l.Visits(dancer)
	if err != nil {
		return logbook.Visit{}, listed(err, "aplomb dancer list")
	}
	switch name {
	case "last":
		if len(all) == 0 {
			return logbook.Visit{}, fmt.Errorf("dancer %s has no visit yet: aplomb visit add --dancer %s adds one", dancer, shellWord(dancer))
		}
		return all[len(all)-1], nil
	case "today":
		today := logbook.DayOf(now)
		for i := len(all) - 1; i >= 0; i-- {
			if all[i].Day == today {
				return all[i], nil
			}
		}
		return logbook.Visit{}, fmt.Errorf("dancer %s has no visit today, %s: aplomb visit add --dancer %s adds one", dancer, today, shellWord(dancer))
	}
	v, err := l.VisitNamed(dancer, name)
	return v, listed(err, "aplomb visit list --dancer "+shellWord(dancer))
}

// shellWord is provisional.
func shellWord(s string) string { return strconv.Quote(s) }
