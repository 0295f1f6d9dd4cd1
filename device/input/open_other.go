//go:build !unix

package input

// noWait is no flag: no path of the system waits for somebody when it is opened.
const noWait = 0
