package recording

import "errors"

// The kinds of errors that callers distinguish with errors.Is. Every error says
// in one line which file it is about, what is wrong and what to do.
var (
	// ErrForeign: the file is not a recording.
	ErrForeign = errors.New("not a recording")
	// ErrNewer: the recording is in a version of the format that this program does not know.
	ErrNewer = errors.New("written in a newer version of the format")
	// ErrCutShort: the file ends before its description does, so that no frame can be read.
	ErrCutShort = errors.New("cut off before the end of its description")
	// ErrDamaged: the bytes differ from those that were written. See also Damage.
	ErrDamaged = errors.New("damaged")
	// ErrUnfinished: there is no such file, but its .part is there.
	ErrUnfinished = errors.New("the recording is still running or was cut short")
	// ErrCorrection: the correction beside the recording cannot be applied.
	ErrCorrection = errors.New("its correction cannot be used")
	// ErrExists: a file is in the way of a new recording.
	ErrExists = errors.New("exists")
	// ErrInUse: another process is writing the file.
	ErrInUse = errors.New("another aplomb is recording into it")
	// ErrEnded: the Writer or the Reader has been closed.
	ErrEnded = errors.New("the recording has ended")
)

// FileError is an error about the file at Path. Its text is the path and Err.
type FileError struct {
	Path string
	Err  error
}

func (e *FileError) Error() string { return e.Path + ": " + e.Err.Error() }

// Unwrap returns Err.
func (e *FileError) Unwrap() error { return e.Err }
