//go:build unix

package console

import (
	"os/exec"
	"syscall"
)

// detach keeps a program running when the terminal is closed or Ctrl-C is typed in it.
func detach(cmd *exec.Cmd) { cmd.SysProcAttr = &syscall.SysProcAttr{Setsid: true} }
