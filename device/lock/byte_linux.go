package lock

import (
	"bufio"
	"fmt"
	"os"
	"strconv"
	"strings"
	"syscall"
	"time"

	"golang.org/x/sys/unix"
)

// ByteHolder returns the process that holds a write lock of fcntl(2) on the byte at an
// offset of the file at path, the zero Holder where none does or it is not known. It
// does not open the file: closing it would release every such lock of this process.
func ByteHolder(path string, offset int64) Holder {
	info, err := os.Stat(path)
	if err != nil {
		return Holder{}
	}
	at, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return Holder{}
	}
	file := fmt.Sprintf("%02x:%02x:%d", unix.Major(uint64(at.Dev)), unix.Minor(uint64(at.Dev)), at.Ino)
	locks, err := os.Open("/proc/locks") // see proc_locks(5)
	if err != nil {
		return Holder{}
	}
	defer locks.Close()
	for lines := bufio.NewScanner(locks); lines.Scan(); {
		f := strings.Fields(lines.Text())
		if len(f) != 8 || f[1] != "POSIX" || f[3] != "WRITE" || f[5] != file {
			continue
		}
		from, err := strconv.ParseInt(f[6], 10, 64)
		to, endless := strconv.ParseInt(f[7], 10, 64) // "EOF" is no number
		pid, e := strconv.Atoi(f[4])
		if err == nil && e == nil && from <= offset && (endless != nil || offset <= to) {
			return Holder{PID: pid, Started: startOf(pid)}
		}
	}
	return Holder{}
}

// startOf returns when a process started, the zero time where that is not known.
func startOf(pid int) time.Time {
	stat, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid)) // see proc_pid_stat(5)
	if err != nil {
		return time.Time{}
	}
	rest := string(stat)
	rest = rest[strings.LastIndex(rest, ")")+1:] // after the program's name, which may contain anything
	fields := strings.Fields(rest)
	if len(fields) < 20 {
		return time.Time{}
	}
	ticks, err := strconv.ParseInt(fields[19], 10, 64) // field 22, in hundredths of a second since the system started
	if err != nil {
		return time.Time{}
	}
	system, err := os.ReadFile("/proc/stat")
	if err != nil {
		return time.Time{}
	}
	_, since, _ := strings.Cut(string(system), "\nbtime ")
	since, _, _ = strings.Cut(since, "\n")
	boot, err := strconv.ParseInt(since, 10, 64)
	if err != nil {
		return time.Time{}
	}
	return time.Unix(boot, 0).Add(time.Duration(ticks) * 10 * time.Millisecond)
}
