package link

import "errors"

// errLocked is what lockDevice returns where another process has the lock.
var errLocked = errors.New("locked")
