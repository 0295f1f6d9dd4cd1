//go:build !unix

package input

// noWait is 0: on this system opening a path never blocks.
const noWait = 0
