package logbook

import "database/sql"

// Holdings counts what a logbook holds.
type Holdings struct {
	Dancers, Visits, Shoes, Strips, Recordings int
	Bytes                                      int64 // of the recordings
}

// Holdings counts what is in the logbook.
func (l *Logbook) Holdings() (h Holdings, err error) {
	err = l.read(func(tx *sql.Tx) error {
		h, err = holdings(tx)
		return err
	})
	return h, err
}

func holdings(tx *sql.Tx) (h Holdings, err error) {
	err = tx.QueryRow(`SELECT (SELECT count(*) FROM dancers), (SELECT count(*) FROM visits), (SELECT count(*) FROM shoes),
		(SELECT count(*) FROM strips), count(*), coalesce(sum(size), 0) FROM recordings`).
		Scan(&h.Dancers, &h.Visits, &h.Shoes, &h.Strips, &h.Recordings, &h.Bytes)
	return h, err
}
