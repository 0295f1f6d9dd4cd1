// Package owneronly has the modes of files and folders that name a dancer. Their
// owner alone can read them. On Windows, and on file systems without owners, a mode
// changes nothing, and the folder decides who can read what is in it.
package owneronly

import "io/fs"

// Modes of what is created.
const (
	File   fs.FileMode = 0o600
	Folder fs.FileMode = 0o700
)
