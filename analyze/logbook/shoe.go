package logbook

import (
	"cmp"
	"database/sql"
	"fmt"

	"aplomb/device"
)

// Shoe is one version of a shoe.
type Shoe struct {
	device.Shoe
	Owner   string // the dancer to whom the pair belongs, and with whom it is erased; "" for any other shoe
	Version int    // from 1; set by AddShoe and EditShoe
	Current bool   // the version that is worn now
	Used    bool   // recordings were made with it, so it does not change
}

// AddShoe adds a shoe in its first version; ErrExists where the code is taken.
func (l *Logbook) AddShoe(s Shoe) error {
	if err := CheckShoe(s); err != nil {
		return err
	}
	return l.change(func(tx *sql.Tx) error {
		id, err := shoeTables.add(tx, s.Code, device.TOML(&s.Shoe))
		if err != nil {
			return err
		}
		return setOwner(tx, id, s.Owner)
	})
}

// EditShoe replaces the description of the shoe of that code. If recordings were made
// with the current version, that version stays and a new one is created.
func (l *Logbook) EditShoe(s Shoe) error {
	if err := CheckShoe(s); err != nil {
		return err
	}
	return l.change(func(tx *sql.Tx) error {
		id, err := shoeTables.find(tx, s.Code)
		if err != nil {
			return err
		}
		if err := shoeTables.edit(tx, id, device.TOML(&s.Shoe)); err != nil {
			return err
		}
		return setOwner(tx, id, s.Owner)
	})
}

// RemoveShoe removes a shoe; ErrInUse where recordings were made with it.
func (l *Logbook) RemoveShoe(code string) error {
	return l.change(func(tx *sql.Tx) error {
		var of string
		err := tx.QueryRow(`SELECT coalesce(min(s.name), '') FROM studies s JOIN study_shoes ON study_id = s.id JOIN shoes ON shoes.id = shoe_id WHERE shoes.key = ?`, keyOf(code)).Scan(&of)
		if err == nil && of != "" {
			err = invalid("shoe %q stays: study %s was declared with it", code, of)
		}
		return cmp.Or(err, shoeTables.remove(tx, code))
	})
}

// Shoe returns the current version of the shoe of that code.
func (l *Logbook) Shoe(code string) (Shoe, error) {
	all, err := l.ShoeVersions(code)
	for _, s := range all {
		if s.Current {
			return s, nil
		}
	}
	return Shoe{}, err
}

// ShoeVersions returns every version of a shoe, by number.
func (l *Logbook) ShoeVersions(code string) ([]Shoe, error) {
	if keyOf(code) == "" {
		return nil, shoeTables.notFoundError(code)
	}
	return l.shoes(code)
}

// Shoes returns the current version of every shoe, by code.
func (l *Logbook) Shoes() (now []Shoe, err error) {
	all, err := l.shoes("")
	for _, s := range all {
		if s.Current {
			now = append(now, s)
		}
	}
	return now, err
}

func (l *Logbook) shoes(code string) (all []Shoe, err error) {
	err = l.read(func(tx *sql.Tx) error {
		owners := map[string]string{}
		err := each(tx, func(rows *sql.Rows) error {
			var shoe, owner string
			err := rows.Scan(&shoe, &owner)
			owners[shoe] = owner
			return err
		}, `SELECT s.code, d.code FROM shoes s JOIN dancers d ON d.id = s.owner_id`)
		if err != nil {
			return err
		}
		found, err := shoeTables.versions(tx, code)
		for _, v := range found {
			s, err := device.ParseShoe(fmt.Sprintf("shoe %q, version %d", v.code, v.number), []byte(v.profile))
			if err != nil {
				return err
			}
			all = append(all, Shoe{Shoe: *s, Owner: owners[v.code], Version: v.number, Current: v.current, Used: v.used})
		}
		return err
	})
	return all, err
}

// setOwner sets the owner of a shoe.
func setOwner(tx *sql.Tx, shoeID int64, dancer string) error {
	var owner any
	if dancer != "" {
		id, err := dancerID(tx, dancer)
		if err != nil {
			return err
		}
		owner = id
	}
	_, err := tx.Exec(`UPDATE shoes SET owner_id = ? WHERE id = ?`, owner, shoeID)
	return err
}

// CheckShoe returns an ErrInvalid where the logbook takes no such shoe.
func CheckShoe(s Shoe) error {
	if err := checkCode("shoe", s.Code); err != nil {
		return err
	}
	if err := cmp.Or(s.Shoe.Check(), s.CheckTyped(), checkText("padding", s.Padding)); err != nil {
		return invalid("shoe %q: %v", s.Code, err)
	}
	return nil
}
