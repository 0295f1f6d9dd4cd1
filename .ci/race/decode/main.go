// Decode reads every frame of a recording and does nothing with them: what analyzing it
// takes at least.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log"
	"os"

	"aplomb/device"
	"aplomb/device/recording"
)

func main() {
	r, err := recording.Open(context.Background(), os.Args[1])
	if err != nil {
		log.Fatal(err)
	}
	var frame device.Frame
	n := 0
	for err = r.Next(&frame); err == nil; err = r.Next(&frame) {
		n++
	}
	if !errors.Is(err, io.EOF) {
		log.Fatal(err)
	}
	fmt.Println(n, "frames")
}
