//go:build unix

package logbook

import (
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// otherUser returns a function that runs the other program as a user without write
// permission in a folder. Modes do not restrict root, so root runs it as another user.
// The files named last are not readable either.
func otherUser(t *testing.T) func(t *testing.T, what, dir string, closed ...string) (out string, err error) {
	program := filepath.Join(t.TempDir(), "other")
	binary, err := os.ReadFile(os.Args[0])
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(program, binary, 0o755))
	letPass(t, program)
	return func(t *testing.T, what, dir string, closed ...string) (string, error) {
		letPass(t, dir)
		require.NoError(t, filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
			if err == nil && !e.IsDir() {
				err = os.Chmod(path, 0o444)
			}
			return err
		}))
		for _, path := range closed {
			require.NoError(t, os.Chmod(path, 0))
			defer os.Chmod(path, 0o600)
		}
		for _, folder := range []string{filepath.Join(dir, recordings), dir} {
			require.NoError(t, os.Chmod(folder, 0o555))
			defer os.Chmod(folder, 0o755)
		}
		cmd := exec.CommandContext(t.Context(), program, dir)
		cmd.Env = append(os.Environ(), task+"="+what)
		cmd.Dir = "/"
		if os.Geteuid() == 0 {
			cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
		}
		if len(closed) > 0 && os.Geteuid() != 0 {
			out, err := cmd.CombinedOutput() // its bytes cannot be compared
			return string(out), err
		}
		before := files(t, dir)
		out, err := cmd.CombinedOutput()
		unchanged(t, before, files(t, dir))
		return string(out), err
	}
}

// letPass gives other users access through the temporary folders above path.
func letPass(t *testing.T, path string) {
	for dir := filepath.Dir(path); dir != os.TempDir() && dir != "/"; dir = filepath.Dir(dir) {
		require.NoError(t, os.Chmod(dir, 0o755))
	}
}

// A read-only logbook can be read, changes are refused, and nothing in its folder
// changes.
func TestReadOnlyLogbook(t *testing.T) {
	as := otherUser(t)
	l := begin(t)
	keepThree(t, l, visit(t, l, "D7"))
	_, err := l.db.Exec(`UPDATE dancers SET note = 'first'; PRAGMA wal_checkpoint(TRUNCATE); UPDATE dancers SET note = 'last'`)
	require.NoError(t, err)
	readable := `finding: .*others than the owner may use it .*\n3 recordings, 1 values of over, note "last"\n$`

	// As a program that was killed leaves it: the last change is in the log alone.
	killed := filepath.Join(t.TempDir(), "killed")
	require.NoError(t, os.CopyFS(killed, os.DirFS(l.Dir())))
	t.Run("killed", func(t *testing.T) {
		out, err := as(t, "read", killed)
		assert.NoError(t, err)
		assert.Regexp(t, "^"+readable, out)
	})
	t.Run("log without its index", func(t *testing.T) {
		require.NoError(t, os.Remove(filepath.Join(killed, database+"-shm")))
		out, err := as(t, "read", killed)
		assert.Error(t, err)
		assert.Regexp(t, `^logbook .*killed: cannot be written \(.*\): make the folder writable, or use a copy of it\n$`, out)
	})
	require.NoError(t, l.Close())
	t.Run("closed", func(t *testing.T) {
		out, err := as(t, "read", l.Dir())
		assert.NoError(t, err)
		assert.Regexp(t, "^"+readable, out)
		out, err = as(t, "visits", l.Dir())
		assert.Error(t, err)
		assert.Equal(t, "logbook "+l.Dir()+": cannot be written (no permission, or a read-only disk): make the folder writable, or use a copy of it\n", out)
	})
	t.Run("not to be read", func(t *testing.T) {
		path := filepath.Join(l.Dir(), database)
		out, err := as(t, "read", l.Dir(), path)
		assert.Error(t, err)
		assert.Equal(t, "logbook "+l.Dir()+": may not be read by this user: its owner has to permit it\n", out)
	})
	t.Run("emptied", func(t *testing.T) {
		emptied := filepath.Join(t.TempDir(), "emptied")
		require.NoError(t, os.CopyFS(emptied, os.DirFS(l.Dir())))
		require.NoError(t, os.WriteFile(filepath.Join(emptied, database), nil, 0o600))
		out, err := as(t, "read", emptied)
		assert.Error(t, err)
		assert.Contains(t, out, "its database logbook.sqlite is empty")
	})
}

// A read-only logbook of an older version can be read without migrating its file.
func TestReadOnlyLogbookOfAnOlderVersion(t *testing.T) {
	l := begin(t)
	keepThree(t, l, visit(t, l, "D7"))
	require.NoError(t, l.Close())
	before := files(t, l.Dir())
	newer, err := openReadOnly(l.Dir(), migrations(t, `ALTER TABLE dancers ADD COLUMN height_mm REAL;`))
	require.NoError(t, err)
	defer newer.Close()
	var heights int
	require.NoError(t, newer.db.QueryRow(`SELECT count(height_mm) FROM dancers`).Scan(&heights))
	kept, err := newer.Recordings(Filter{})
	require.NoError(t, err)
	assert.Len(t, kept, 3)
	oneLine(t, newer.AddDancer(Dancer{Code: "D8"}), ErrReadOnly, l.Dir())
	oneLine(t, newer.Backup(bg, filepath.Join(t.TempDir(), "b")), ErrReadOnly, l.Dir())
	_, err = newer.DeleteDancer(bg, "D7")
	oneLine(t, err, ErrReadOnly)
	unchanged(t, before, files(t, l.Dir()))
}
