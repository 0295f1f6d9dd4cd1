package logbook

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"slices"

	"aplomb/device"
)

// errNumberTaken is returned where another program has added a recording in the meantime.
var errNumberTaken = errors.New("another recording has got the number")

// addNumbered adds a recording with the next number, which is written into its file. The file
// is written before the logbook is locked, with the number expected to be next.
func (l *Logbook) addNumbered(ctx context.Context, f recordedFile, meta device.Metadata, visitID int64) (id int64, err error) {
	for {
		var number int64
		err := l.read(func(tx *sql.Tx) (err error) {
			number, err = nextNumber(tx)
			return err
		})
		if err != nil {
			return 0, err
		}
		s, err := l.stage(ctx, f, meta.Started, number)
		if err != nil {
			return 0, err
		}
		err = l.change(func(tx *sql.Tx) error {
			if err := f.checkNew(tx); err != nil { // another program may have added it since
				return err
			}
			var visits int // another program may have erased the dancer since
			if err := tx.QueryRow(`SELECT count(*) FROM visits WHERE id = ?`, visitID).Scan(&visits); err != nil || visits == 0 {
				return cmp.Or(err, visitNotFound(visitID))
			}
			if next, err := nextNumber(tx); err != nil || next != number {
				return cmp.Or(err, errNumberTaken)
			}
			if id, err = insertRecording(tx, visitID, s.recordedFile, meta); err != nil {
				return err
			}
			return l.place(s)
		})
		if err == nil {
			return id, nil
		}
		l.withdraw(s)
		if !errors.Is(err, errNumberTaken) {
			return 0, err
		}
	}
}

// nextNumber returns the number of the next recording: one more than the highest ever
// given.
func nextNumber(tx *sql.Tx) (n int64, err error) {
	err = tx.QueryRow(`SELECT 1 + max(coalesce((SELECT max(seq) FROM sqlite_sequence WHERE name = 'recordings'), 0),
		coalesce((SELECT max(id) FROM recordings), 0))`).Scan(&n)
	return n, err
}

// raiseNextNumber sets the number of the next recording to next, unless it is already higher.
func raiseNextNumber(tx *sql.Tx, next int64) error {
	for _, query := range []string{
		`INSERT INTO sqlite_sequence (name, seq) SELECT 'recordings', 0 WHERE NOT EXISTS (SELECT 1 FROM sqlite_sequence WHERE name = 'recordings')`,
		`UPDATE sqlite_sequence SET seq = max(seq, ?1 - 1) WHERE name = 'recordings'`,
	} {
		if _, err := tx.Exec(query, next); err != nil {
			return err
		}
	}
	return nil
}

// assignNumbers returns a number for each recording: the one that the recording claims,
// where no other claims it too and it is above given, the highest number that this
// logbook has given. All others get numbers above highest and above every claim, in their
// order, so that no number is used for two recordings.
func assignNumbers(claims []int64, given, highest int64) []int64 {
	claimed := map[int64]int{}
	for _, c := range claims {
		claimed[c]++
		highest = max(highest, c)
	}
	highest = max(highest, given)
	numbers := make([]int64, len(claims))
	for i, c := range claims {
		if c > given && claimed[c] == 1 {
			numbers[i] = c
			continue
		}
		highest++
		numbers[i] = highest
	}
	return numbers
}

// formerNumbers holds the numbers of recordings found in the former database and in
// earlier copies of it.
type formerNumbers struct {
	byFile  map[string]int64 // by name in the folder of recordings
	bySum   map[string]int64 // by the SHA-256 of the file
	taken   map[int64]bool   // by number
	highest int64            // that was given
	known   bool             // highest is known from one of them
}

// of returns the former number of the recording in a file, 0 where unknown.
func (f *formerNumbers) of(file recordedFile) int64 {
	if n, ok := f.byFile[file.name]; ok {
		return n
	}
	return f.bySum[file.sum]
}

// readFormerNumbers reads the former numbers of recordings as far as they are readable.
// Where databases differ, the one that was changed last takes precedence.
func readFormerNumbers(dir string) formerNumbers {
	f := formerNumbers{byFile: map[string]int64{}, bySum: map[string]int64{}, taken: map[int64]bool{}}
	copies, _ := asideCopies(dir) // without them fewer numbers are known
	paths := append(copies, filepath.Join(dir, database))
	changed := func(path string) int64 {
		info, err := os.Stat(path)
		if err != nil || info.Size() == 0 {
			return 0
		}
		return info.ModTime().UnixNano()
	}
	paths = slices.DeleteFunc(paths, func(path string) bool { return changed(path) == 0 })
	slices.SortFunc(paths, func(a, b string) int { return cmp.Compare(changed(b), changed(a)) })
	for _, path := range paths {
		db, _, err := openUnchanged(path)
		if err != nil {
			continue
		}
		f.read(db)
		db.Close()
	}
	return f
}

// read adds the numbers in a database, which may be damaged.
func (f *formerNumbers) read(db *sql.DB) {
	var highest int64
	if db.QueryRow(`SELECT seq FROM sqlite_sequence WHERE name = 'recordings'`).Scan(&highest) == nil {
		f.highest, f.known = max(f.highest, highest), true
	}
	rows, err := db.Query(`SELECT id, file, sha256 FROM recordings`)
	if err != nil {
		return
	}
	defer rows.Close()
	for rows.Next() {
		var number int64
		var file, sum string
		if rows.Scan(&number, &file, &sum) != nil {
			continue
		}
		if _, ok := f.byFile[file]; ok {
			continue
		}
		f.byFile[file], f.bySum[sum], f.taken[number] = number, number, true
		f.highest = max(f.highest, number)
	}
}
