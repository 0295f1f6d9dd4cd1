//go:build !linux

package pages

func advise([]byte) {}
