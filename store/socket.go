package store

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"sync"
)

// socketSuffix is appended to the file's path for the socket beside it.
const socketSuffix = ".sock"

// SocketPath is where the process that holds the file at path serves it.
func SocketPath(path string) string { return path + socketSuffix }

// maxSocketPath is what fits into a socket address on Linux; elsewhere it is
// a few bytes less, which bind tells.
const maxSocketPath = 107

// socketMode lets only the owner connect, as only the owner reads the file.
const socketMode = 0o600

// Listen makes the socket beside the file. As it is a method of the store
// that holds the file's lock, only the holder ever replaces a socket that an
// earlier process left behind.
//
// The socket is made in a folder that only the owner can enter, given its
// mode there, and then moved into place: at no time can others connect,
// whatever the umask is.
func (b *Bolt) Listen() (net.Listener, error) {
	if b.opts.ReadOnly {
		return nil, unavailable("serve "+b.path, errors.New("it is open for reading only, which others can do, too"))
	}
	ln, err := listenPrivately(SocketPath(b.path))
	if err != nil {
		return nil, fmt.Errorf("serve %s: %w", b.path, err)
	}
	return ln, nil
}

func listenPrivately(path string) (net.Listener, error) {
	private, err := os.MkdirTemp(filepath.Dir(path), ".ferrule-") // made with mode 0700
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(private)
	made := filepath.Join(private, "s")
	address, release, err := socketAddress(made)
	if err != nil {
		return nil, err
	}
	defer release()
	ln, err := net.ListenUnix("unix", &net.UnixAddr{Name: address, Net: "unix"})
	if err != nil {
		return nil, err
	}
	ln.SetUnlinkOnClose(false) // it would look at the old place
	info, err := publish(made, path)
	if err != nil {
		return nil, errors.Join(err, ln.Close())
	}
	return &socket{UnixListener: ln, path: path, info: info}, nil
}

// publish gives the socket its mode and its place.
func publish(made, path string) (os.FileInfo, error) {
	if err := os.Chmod(made, socketMode); err != nil {
		return nil, err
	}
	if old, err := os.Lstat(path); err == nil && old.Mode()&os.ModeSocket == 0 {
		return nil, fmt.Errorf("%s is in the way: not a socket", path)
	}
	if err := os.Rename(made, path); err != nil {
		return nil, err
	}
	return os.Lstat(path)
}

// socket is a listener that takes its file away with it.
type socket struct {
	*net.UnixListener
	path  string
	info  os.FileInfo
	close sync.Once
	err   error
}

// Close ends listening and removes the socket, unless another one has taken
// its place.
func (s *socket) Close() error {
	s.close.Do(func() {
		if now, err := os.Lstat(s.path); err == nil && os.SameFile(now, s.info) {
			s.err = os.Remove(s.path)
		}
		s.err = errors.Join(s.UnixListener.Close(), s.err)
	})
	return s.err
}

// dialSocket connects to a socket, also where its path is long.
func dialSocket(ctx context.Context, path string) (net.Conn, error) {
	address, release, err := socketAddress(path)
	if err != nil {
		return nil, err
	}
	defer release()
	var d net.Dialer
	return d.DialContext(ctx, "unix", address)
}

// socketAddress makes an address for a path. One that is too long is reached
// through the open folder, whose name under /proc is short; release closes it.
func socketAddress(path string) (address string, release func(), err error) {
	if len(path) <= maxSocketPath {
		return path, func() {}, nil
	}
	name := filepath.Base(path)
	if runtime.GOOS != "linux" || len(name) > maxSocketPath-len("/proc/self/fd/0000000000/") {
		return "", nil, fmt.Errorf("the path %s has %d bytes; a socket's has %d at most, so the store needs a shorter one", path, len(path), maxSocketPath)
	}
	folder, err := os.Open(filepath.Dir(path))
	if err != nil {
		return "", nil, err
	}
	address = "/proc/self/fd/" + strconv.Itoa(int(folder.Fd())) + "/" + name
	return address, func() { _ = folder.Close() }, nil
}

// Serve makes the socket beside the file and answers calls on it until ctx
// ends. It does not close the store.
func (b *Bolt) Serve(ctx context.Context) error {
	ln, err := b.Listen()
	if err != nil {
		return err
	}
	return Serve(ctx, ln, b)
}
