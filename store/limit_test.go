//go:build unix

package store_test

import (
	"os/exec"
	"syscall"
)

// limitFiles lets this process write no file longer than size.
func limitFiles(size uint64) error {
	limit := syscall.Rlimit{Cur: size, Max: size}
	return syscall.Setrlimit(syscall.RLIMIT_FSIZE, &limit)
}

// asNobody runs a command without any rights of its own.
func asNobody(c *exec.Cmd) {
	c.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
}

// setUmask changes what new files may be, and returns the old mask.
func setUmask(mask int) int { return syscall.Umask(mask) }
