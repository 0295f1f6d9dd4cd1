package recording

// Tests replace the disk through these types.
type (
	Disk   = disk
	File   = file
	System = system
)

// CreateOn is Create on another disk, and CreateDirectOn is CreateDirect.
var CreateOn, CreateDirectOn = createLive, createDirect
