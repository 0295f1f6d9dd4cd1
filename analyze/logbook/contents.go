package logbook

import "database/sql"

// Contents counts what is in a logbook.
type Contents struct {
	Dancers, Visits, Shoes, Strips, Recordings int
	StripChecks                                int
	Agreements                                 int   // of strips with reference instruments
	Bytes                                      int64 // of the recordings
}

// Contents counts what is in the logbook.
func (l *Logbook) Contents() (c Contents, err error) {
	err = l.read(func(tx *sql.Tx) error {
		c, err = contents(tx)
		return err
	})
	return c, err
}

func contents(tx *sql.Tx) (c Contents, err error) {
	err = tx.QueryRow(`SELECT (SELECT count(*) FROM dancers), (SELECT count(*) FROM visits), (SELECT count(*) FROM shoes),
		(SELECT count(*) FROM strips), (SELECT count(*) FROM strip_checks), (SELECT count(*) FROM agreements), count(*), coalesce(sum(size), 0) FROM recordings`).
		Scan(&c.Dancers, &c.Visits, &c.Shoes, &c.Strips, &c.StripChecks, &c.Agreements, &c.Recordings, &c.Bytes)
	return c, err
}
