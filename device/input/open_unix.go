//go:build unix

package input

import "syscall"

// noWait is the flag with which opening waits for nobody.
const noWait = syscall.O_NONBLOCK
