package recording

// What the tests put in place of the computer's disk.
type (
	Disk   = disk
	File   = file
	System = system
)

// CreateOn is Create on another disk.
var CreateOn = createLive
