package console

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"time"
)

// openingFor is how long OpenFile waits for the opener to fail. An opener that runs
// longer shows the file itself.
const openingFor = 3 * time.Second

// OpenFile shows a file or folder with its default program, like a double click. That
// program outlives this one. The error is the reason for failure, as far as it is known.
func OpenFile(ctx context.Context, path string) error { return openFile(ctx, path, openingFor) }

func openFile(ctx context.Context, path string, patience time.Duration) error {
	path, err := filepath.Abs(path) // which begins with no hyphen: it is never taken for an option
	if err != nil {
		return err
	}
	if !hasDesktop(runtime.GOOS, os.Getenv) {
		return errors.New("there is no desktop here to open it on")
	}
	command := opener(runtime.GOOS)
	cmd := exec.Command(command[0], append(command[1:], path)...)
	detach(cmd)
	if err := cmd.Start(); errors.Is(err, exec.ErrNotFound) {
		return fmt.Errorf("there is no %s here to open it with", command[0])
	} else if err != nil {
		return err
	}
	ended := make(chan error, 1)
	go func() { ended <- cmd.Wait() }()
	select {
	case err := <-ended:
		if err != nil {
			return fmt.Errorf("%s could not open it (%w)", command[0], err)
		}
	case <-time.After(patience):
	case <-ctx.Done():
	}
	return nil
}

// opener returns the command of an operating system that opens the file named after
// it. No shell reads the name.
func opener(system string) []string {
	switch system {
	case "windows":
		return []string{"rundll32", "url.dll,FileProtocolHandler"}
	case "darwin":
		return []string{"open"}
	}
	return []string{"xdg-open"}
}

// hasDesktop reports whether programs with windows can be shown. Without a display
// xdg-open would start a browser for terminals.
func hasDesktop(system string, env func(string) string) bool {
	return system == "windows" || system == "darwin" || env("DISPLAY") != "" || env("WAYLAND_DISPLAY") != ""
}

// IsTerminal reports whether w writes to a terminal.
func IsTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	return ok && isTerminal(f)
}
