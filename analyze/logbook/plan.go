package logbook

import (
	"database/sql"
	"errors"
	"fmt"
)

// Plan is the order in which shoes are to be tried in a visit.
type Plan struct {
	Seed    uint64 // the order followed from it
	Releves int    // in every mounting
	Steps   []PlanStep
}

// PlanStep is one mounting of the strips under one shoe.
type PlanStep struct {
	Shoe     string // code
	Mounting int    // of this shoe, from 1
}

// PutPlan keeps a plan with a visit, in place of the one before. ErrNotFound
// where a shoe is not in the logbook. A shoe that is removed later takes its
// steps along. No recording tells of a plan, so Rebuild cannot restore it.
func (l *Logbook) PutPlan(visitID int64, p Plan) error {
	if p.Releves < 1 || len(p.Steps) == 0 {
		return invalid("a plan of %d steps, %d relevés each", len(p.Steps), p.Releves)
	}
	for _, s := range p.Steps {
		if s.Mounting < 1 {
			return invalid("mounting %d of shoe %.80q", s.Mounting, s.Shoe)
		}
	}
	if _, err := l.Visit(visitID); err != nil {
		return err
	}
	return l.change(func(tx *sql.Tx) error {
		if _, err := tx.Exec(`DELETE FROM plans WHERE visit_id = ?`, visitID); err != nil {
			return err
		}
		if _, err := tx.Exec(`INSERT INTO plans (visit_id, seed, releves) VALUES (?, ?, ?)`, visitID, int64(p.Seed), p.Releves); err != nil {
			return err
		}
		for i, s := range p.Steps {
			shoe, err := shoeShelf.find(tx, s.Shoe)
			if err != nil {
				return err
			}
			if _, err := tx.Exec(`INSERT INTO plan_steps (visit_id, step, shoe_id, mounting) VALUES (?, ?, ?, ?)`, visitID, i+1, shoe, s.Mounting); err != nil {
				return err
			}
		}
		return nil
	})
}

// Plan returns the plan of a visit; ErrNotFound where it has none.
func (l *Logbook) Plan(visitID int64) (p Plan, err error) {
	err = l.read(func(tx *sql.Tx) error {
		var seed int64
		err := tx.QueryRow(`SELECT seed, releves FROM plans WHERE visit_id = ?`, visitID).Scan(&seed, &p.Releves)
		if err != nil && !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		p.Seed = uint64(seed)
		return each(tx, func(rows *sql.Rows) error {
			var s PlanStep
			err := rows.Scan(&s.Shoe, &s.Mounting)
			p.Steps = append(p.Steps, s)
			return err
		}, `SELECT code, mounting FROM plan_steps JOIN shoes ON shoes.id = shoe_id WHERE visit_id = ? ORDER BY step`, visitID)
	})
	if err == nil && len(p.Steps) == 0 {
		err = fmt.Errorf("plan of visit number %d: %w", visitID, ErrNotFound)
	}
	return p, err
}
