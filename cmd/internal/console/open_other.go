//go:build !unix

package console

import "os/exec"

// detach does nothing: a program with windows does not depend on a terminal there.
func detach(*exec.Cmd) {}
