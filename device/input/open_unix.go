//go:build unix

package input

import "syscall"

// noWait is the flag with which opening does not block.
const noWait = syscall.O_NONBLOCK
