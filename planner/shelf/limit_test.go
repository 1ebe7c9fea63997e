//go:build linux || darwin

package shelf

import (
	"os/signal"
	"strconv"
	"syscall"
)

// limitFiles keeps this process from writing files of more than bytes.
func limitFiles(bytes string) error {
	if bytes == "" {
		return nil
	}
	n, err := strconv.ParseUint(bytes, 10, 64)
	if err != nil {
		return err
	}
	signal.Ignore(syscall.SIGXFSZ) // the write itself is to fail
	return syscall.Setrlimit(syscall.RLIMIT_FSIZE, &syscall.Rlimit{Cur: n, Max: n})
}
