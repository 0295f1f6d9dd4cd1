package logbook

import (
	"cmp"
	"database/sql"
	"fmt"

	"aplomb/device"
)

// Shoe is one version of a shoe: what it was like at some time.
type Shoe struct {
	device.Shoe
	Owner   string // the dancer whose own pair it is, and with whom it is erased; "" for any other shoe
	Version int    // from 1; adding and editing give it
	Current bool   // the version that is worn now
	Used    bool   // recordings were made with it, so it stays as it is
}

// AddShoe adds a shoe in its first version; ErrExists where the code is taken.
func (l *Logbook) AddShoe(s Shoe) error {
	if err := checkShoe(s); err != nil {
		return err
	}
	return l.change(func(tx *sql.Tx) error {
		id, err := shoeShelf.add(tx, s.Code, device.TOML(&s.Shoe))
		if err != nil {
			return err
		}
		return own(tx, id, s.Owner)
	})
}

// EditShoe says what the shoe of that code is like now. If recordings were made
// with the version before, this becomes another version and they keep theirs.
func (l *Logbook) EditShoe(s Shoe) error {
	if err := checkShoe(s); err != nil {
		return err
	}
	return l.change(func(tx *sql.Tx) error {
		id, err := shoeShelf.find(tx, s.Code)
		if err != nil {
			return err
		}
		if err := shoeShelf.edit(tx, id, device.TOML(&s.Shoe)); err != nil {
			return err
		}
		return own(tx, id, s.Owner)
	})
}

// RemoveShoe takes a shoe out of the logbook; ErrInUse where recordings were
// made with it.
func (l *Logbook) RemoveShoe(code string) error {
	return l.change(func(tx *sql.Tx) error { return shoeShelf.remove(tx, code) })
}

// Shoe returns the shoe of that code as it is now.
func (l *Logbook) Shoe(code string) (Shoe, error) {
	all, err := l.ShoeVersions(code)
	for _, s := range all {
		if s.Current {
			return s, nil
		}
	}
	return Shoe{}, err
}

// ShoeVersions returns every version of a shoe, the first at the head.
func (l *Logbook) ShoeVersions(code string) ([]Shoe, error) {
	if keyOf(code) == "" {
		return nil, shoeShelf.missing(code)
	}
	return l.shoes(code)
}

// Shoes returns every shoe as it is now, by code.
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
		found, err := shoeShelf.versions(tx, code)
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

// own writes down whose pair a shoe is.
func own(tx *sql.Tx, shoeID int64, dancer string) error {
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

func checkShoe(s Shoe) error {
	if err := checkCode("shoe", s.Code); err != nil {
		return err
	}
	if err := cmp.Or(s.Shoe.Check(), checkText("padding", s.Padding)); err != nil {
		return invalid("shoe %q: %v", s.Code, err)
	}
	return nil
}
