package store_test

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// Some tests need a second process: one that is killed, that has no right to
// write, or whose disk is full. It is this program, told by the environment
// what to do.
const childVariable = "FERRULE_STORE_TEST"

// children are what a second process can do; the arguments are its own.
var children = map[string]func(args []string) error{
	"write":     childWrite,
	"hold":      childHold,
	"open":      childOpen,
	"full disk": childFullDisk,
}

func TestMain(m *testing.M) {
	what, ok := os.LookupEnv(childVariable)
	if !ok {
		os.Exit(m.Run())
	}
	args := strings.Split(what, "\n")
	if err := children[args[0]](args[1:]); err != nil {
		fmt.Println("error:", err)
		os.Exit(1)
	}
}

// child prepares a second process.
func child(t *testing.T, args ...string) *exec.Cmd {
	t.Helper()
	program, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.CommandContext(t.Context(), program)
	c.Env = append(os.Environ(), childVariable+"="+strings.Join(args, "\n"))
	c.Stderr = os.Stderr
	return c
}

// readable copies this program to where other users can run it.
func readable(t *testing.T) (program, folder string) {
	t.Helper()
	folder, err := os.MkdirTemp("/tmp", "ferrule-store-test-")
	if err != nil {
		t.Skip(err)
	}
	t.Cleanup(func() { _ = os.RemoveAll(folder) })
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(self)
	if err != nil {
		t.Fatal(err)
	}
	program = filepath.Join(folder, "program")
	for _, err := range []error{os.WriteFile(program, b, 0o755), os.Chmod(program, 0o755), os.Chmod(folder, 0o755)} {
		if err != nil {
			t.Fatal(err)
		}
	}
	return program, folder
}
