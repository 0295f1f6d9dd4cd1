package logbook

import (
	"cmp"
	"database/sql"
	"errors"
	"fmt"

	"aplomb/device"
)

// Strip is one version of a strip's profile, that is, of its calibration.
type Strip struct {
	device.Strip
	Version int  // from 1; set by AddStrip and EditStrip
	Current bool // the profile in force
	Used    bool // recordings were made with it, so it does not change
}

// AddStrip adds a strip; ErrExists where the name is taken.
func (l *Logbook) AddStrip(s device.Strip) error {
	if err := CheckStrip(s); err != nil {
		return err
	}
	return l.change(func(tx *sql.Tx) error {
		_, err := stripTables.add(tx, s.Name, device.TOML(&s))
		return err
	})
}

// EditStrip replaces the profile of the strip of that name, for example after a
// calibration. If recordings or checks were made with the current version, that version
// stays and a new one is created.
func (l *Logbook) EditStrip(s device.Strip) error {
	if err := CheckStrip(s); err != nil {
		return err
	}
	return l.change(func(tx *sql.Tx) error {
		id, err := stripTables.find(tx, s.Name)
		if err != nil {
			return err
		}
		return stripTables.edit(tx, id, device.TOML(&s))
	})
}

// RemoveStrip removes a strip with its checks; ErrInUse where recordings were made
// with it.
func (l *Logbook) RemoveStrip(name string) error {
	return l.change(func(tx *sql.Tx) error { return stripTables.remove(tx, name) })
}

// Strip returns the current profile of the strip of that name.
func (l *Logbook) Strip(name string) (Strip, error) {
	all, err := l.StripVersions(name)
	for _, s := range all {
		if s.Current {
			return s, nil
		}
	}
	return Strip{}, err
}

// StripVersions returns every version of a strip's profile, by number.
func (l *Logbook) StripVersions(name string) ([]Strip, error) {
	if keyOf(name) == "" {
		return nil, stripTables.notFoundError(name)
	}
	return l.strips(name)
}

// Strips returns the current profile of every strip, by name.
func (l *Logbook) Strips() (now []Strip, err error) {
	all, err := l.strips("")
	for _, s := range all {
		if s.Current {
			now = append(now, s)
		}
	}
	return now, err
}

func (l *Logbook) strips(name string) (all []Strip, err error) {
	err = l.read(func(tx *sql.Tx) error {
		found, err := stripTables.versions(tx, name)
		for _, v := range found {
			s, err := device.ParseStrip(fmt.Sprintf("strip %q, version %d", v.code, v.number), []byte(v.profile))
			if err != nil {
				return err
			}
			all = append(all, Strip{Strip: *s, Version: v.number, Current: v.current, Used: v.used})
		}
		return err
	})
	return all, err
}

// versionOfStrip returns the row and the number of the version of a strip whose profile is
// s; ErrNotFound where it has none. which says in an error which profile that is.
func versionOfStrip(tx *sql.Tx, s device.Strip, which string) (id int64, version int, err error) {
	strip, err := stripTables.find(tx, s.Name)
	if err != nil {
		return 0, 0, err
	}
	err = tx.QueryRow(`SELECT id, version FROM strip_versions WHERE item_id = ? AND profile = ?`, strip, device.TOML(&s)).Scan(&id, &version)
	if errors.Is(err, sql.ErrNoRows) {
		err = fmt.Errorf("strip %q with the profile %s: %w", s.Name, which, ErrNotFound)
	}
	return id, version, err
}

// eachOfStrip calls scan for each row of a query about a strip, or about every strip where
// name is "". The key of the strip is ?1 in the query.
func eachOfStrip(tx *sql.Tx, name string, scan func(*sql.Rows) error, query string) error {
	if name != "" {
		if _, err := stripTables.find(tx, name); err != nil {
			return err
		}
	}
	return each(tx, scan, query, keyOf(name))
}

// CheckStrip returns an ErrInvalid where the logbook takes no such strip.
func CheckStrip(s device.Strip) error {
	if err := checkCode("strip", s.Name); err != nil {
		return err
	}
	if err := cmp.Or(s.Check(), s.CheckTyped()); err != nil {
		return invalid("strip %q: %v", s.Name, err)
	}
	return nil
}
