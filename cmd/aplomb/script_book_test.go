//go:build unix

package main

import (
	"bytes"
	"context"
	"database/sql"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"aplomb/analyze"
	"aplomb/analyze/logbook"
	"aplomb/analyze/measure"
	"aplomb/cmd/internal/software"
)

// inBook calls a function with the logbook of a script.
func inBook(ts *testscript.TestScript, do func(*logbook.Logbook) error) {
	l, err := logbook.Open(ts.Getenv("APLOMB_LOGBOOK"))
	ts.Check(err)
	ts.Check(do(l))
	ts.Check(l.Close())
}

// keep DANCER VERSION FILE.mcap... adds recordings to the dancer's last visit, with
// measures of that version of the program, none for "-". Another version has another
// algorithm.
func keep(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 3 {
		ts.Fatalf("usage: keep DANCER VERSION FILE.mcap...")
	}
	inBook(ts, func(l *logbook.Logbook) error {
		visits, err := l.Visits(args[0])
		ts.Check(err)
		for _, path := range args[2:] {
			r, err := l.AddRecording(context.Background(), ts.MkAbs(path), visits[len(visits)-1].ID)
			ts.Check(err)
			if args[1] == "-" {
				continue
			}
			result, err := analyze.File(context.Background(), r.Path, analyze.Options{Software: measure.Software{Version: args[1]}})
			ts.Check(err)
			if args[1] != software.Version {
				result.Provenance.Algorithm = "another"
			}
			ts.Check(l.PutMeasures(r.ID, result))
		}
		return nil
	})
}

func bookFile(ts *testscript.TestScript) string {
	return filepath.Join(ts.Getenv("APLOMB_LOGBOOK"), "logbook.sqlite")
}

// hold SECONDS keeps the logbook locked for a while, like a program that writes to it.
func hold(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: hold DURATION")
	}
	long, err := time.ParseDuration(args[0])
	ts.Check(err)
	db, err := sql.Open("sqlite", "file:"+bookFile(ts)+"?_txlock=immediate")
	ts.Check(err)
	tx, err := db.Begin()
	ts.Check(err)
	free := time.AfterFunc(long, func() { tx.Rollback() })
	ts.Defer(func() {
		free.Stop()
		tx.Rollback()
		db.Close()
	})
}

// overwrite overwrites pages of the database as a failing disk would.
func overwrite(ts *testscript.TestScript, neg bool, args []string) {
	b, err := os.ReadFile(bookFile(ts))
	ts.Check(err)
	copy(b[4096:], bytes.Repeat([]byte(strings.Repeat("?", 64)), (len(b)-4096)/64))
	ts.Check(os.WriteFile(bookFile(ts), b, 0o600))
}

// garble overwrites a part of every stored measure as a failing disk would.
func garble(ts *testscript.TestScript, neg bool, args []string) {
	db, err := sql.Open("sqlite", "file:"+bookFile(ts))
	ts.Check(err)
	_, err = db.Exec(`UPDATE measures SET sensor = '{&' WHERE sensor <> ''`)
	ts.Check(err)
	ts.Check(db.Close())
}

// newer marks the database as written by a later version of the program.
func newer(ts *testscript.TestScript, neg bool, args []string) {
	db, err := sql.Open("sqlite", "file:"+bookFile(ts))
	ts.Check(err)
	_, err = db.Exec(`PRAGMA user_version = 1000`)
	ts.Check(err)
	ts.Check(db.Close())
}
