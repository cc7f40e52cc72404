package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"runtime/debug"
	"sync"
	"sync/atomic"
	"time"

	"go.etcd.io/bbolt"
	berrors "go.etcd.io/bbolt/errors"
)

// Options says how a file is opened. The zero value is what the program uses.
type Options struct {
	// ReadOnly opens an existing file for reading, beside others that do
	// the same; Apply and all that writes returns ErrUnavailable.
	ReadOnly bool
	// LockWait is how long to wait for another process that holds the file;
	// 0 means 200 ms.
	LockWait time.Duration
	// HolderWait is how long OpenPath tries to reach the process that holds the
	// file; 0 means 2 s.
	HolderWait time.Duration
}

const (
	// fileMode: the file names sites and says what is wrong with them.
	fileMode = 0o600
	// mapSize is how much of the file is mapped from the start. The map
	// grows by doubling, which has to wait for readers; up to this size it
	// never does. It costs address space, not memory or disk.
	mapSize = 64 << 20
)

// Bolt is a Store in one bbolt file. Every change is one transaction; one
// goroutine commits whatever is queued, see writer.
type Bolt struct {
	path string
	db   *bbolt.DB
	info os.FileInfo // of the open file, to notice when it is moved away
	opts Options

	names  *dictionary
	commit func(*bbolt.Tx) error // a seam for tests of failing disks

	mu      sync.RWMutex // held for reading while a job is put into the queue
	closed  bool
	queue   chan *job
	written chan struct{} // closed when the writer has ended

	broken  atomic.Pointer[error] // why the store stopped serving
	damaged atomic.Bool           // bbolt gave up in the middle of something
}

var _ Store = (*Bolt)(nil)

// OpenBolt opens a file, creating it if there is none, and brings an older
// format up to date. It returns ErrLocked when another process holds the
// file, and ErrNewerFormat, with the file untouched, when a newer version of
// the program wrote it.
func OpenBolt(path string, opts Options) (*Bolt, error) {
	if opts.LockWait <= 0 {
		opts.LockWait = 200 * time.Millisecond
	}
	b := &Bolt{
		path:    path,
		opts:    opts,
		names:   &dictionary{numbers: map[string]uint32{}},
		commit:  (*bbolt.Tx).Commit,
		queue:   make(chan *job, maxGroup),
		written: make(chan struct{}),
	}
	if err := b.open(); err != nil {
		return nil, err
	}
	go b.write()
	return b, nil
}

func (b *Bolt) open() error {
	isNew, err := inspect(b.path, b.opts)
	if err != nil {
		return err
	}
	db, err := openFile(b.path, b.boltOptions(b.opts.ReadOnly))
	if err != nil {
		return openError(b.path, err)
	}
	b.db = db
	err = b.prepareFile()
	if err == nil && isNew {
		// Or the whole file could be gone after a power cut, with all that
		// was acknowledged.
		err = syncFolder(b.path)
	}
	if err != nil {
		return errors.Join(err, db.Close())
	}
	return nil
}

func (b *Bolt) boltOptions(readOnly bool) *bbolt.Options {
	return &bbolt.Options{
		Timeout:         b.opts.LockWait,
		ReadOnly:        readOnly,
		FreelistType:    bbolt.FreelistMapType,
		InitialMmapSize: mapSize,
	}
}

// openFile opens a file with bbolt, which panics over some kinds of damage.
func openFile(path string, opts *bbolt.Options) (db *bbolt.DB, err error) {
	defer recoverDamage(&err)
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
	return bbolt.Open(path, fileMode, opts)
}

// prepareFile checks the opened file and makes or migrates its contents.
func (b *Bolt) prepareFile() (err error) {
	defer recoverDamage(&err)
	if b.info, err = os.Stat(b.path); err != nil {
		return openError(b.path, err)
	}
	if err := whole(b.db, b.info); err != nil {
		return unavailable("open "+b.path, err)
	}
	if b.opts.ReadOnly {
		return nil
	}
	return migrate(b.db)
}

// openError says in words why a file could not be opened.
func openError(path string, err error) error {
	switch {
	case errors.Is(err, berrors.ErrTimeout):
		return fmt.Errorf("open %s: %w", path, ErrLocked)
	case errors.Is(err, fs.ErrPermission), isReadOnlyDisk(err):
		return unavailable("open "+path+" for writing (a file, folder or disk that may only be read?)", err)
	case errors.Is(err, berrors.ErrInvalid), errors.Is(err, berrors.ErrChecksum), errors.Is(err, berrors.ErrVersionMismatch):
		return unavailable("open "+path+" (not a store, or damaged)", err)
	default:
		return unavailable("open "+path, err)
	}
}

// whole refuses a file that was cut short: reading a page that is mapped but
// not there would end the process.
func whole(db *bbolt.DB, info os.FileInfo) error {
	return db.View(func(tx *bbolt.Tx) error {
		if info.Size() < tx.Size() {
			return fmt.Errorf("damaged: the file has %d bytes and should have %d", info.Size(), tx.Size())
		}
		return nil
	})
}

// view runs a read transaction. It must be short: the writer waits for all
// readers when the file outgrows its map.
func (b *Bolt) view(ctx context.Context, fn func(*bbolt.Tx) error) (err error) {
	if err := ctx.Err(); err != nil {
		return err
	}
	if err := b.usable(); err != nil {
		return err
	}
	defer b.stopOnDamage(&err)
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true)) // a page that can't be read is an error, not the end
	err = b.db.View(fn)
	if errors.Is(err, berrors.ErrDatabaseNotOpen) {
		return unavailable("read", errClosed)
	}
	return err
}

// usable tells whether the store still serves.
func (b *Bolt) usable() error {
	if cause := b.broken.Load(); cause != nil {
		return unavailable("the store stopped after a failure; open it again", *cause)
	}
	return nil
}

// fail stops the store from serving. The first cause is kept.
func (b *Bolt) fail(cause error) {
	b.broken.CompareAndSwap(nil, &cause)
}

// stopOnDamage turns a panic over a damaged page into an error and stops the
// store: what was in bbolt's way may have left its locks held, and a file
// with one damaged page should not be written to.
func (b *Bolt) stopOnDamage(err *error) {
	if p := recover(); p != nil {
		*err = unavailable("damaged file", fmt.Errorf("%v", p))
		b.damaged.Store(true)
		b.fail(*err)
	}
}

// recoverDamage turns a panic over a damaged page into an error.
func recoverDamage(err *error) {
	if p := recover(); p != nil {
		*err = unavailable("damaged file", fmt.Errorf("%v", p))
	}
}

// Close commits what is queued and releases the file.
func (b *Bolt) Close() error {
	b.mu.Lock()
	if b.closed {
		b.mu.Unlock()
		return nil
	}
	b.closed = true
	close(b.queue)
	b.mu.Unlock()
	<-b.written
	if err := b.release(); err != nil {
		return fmt.Errorf("close %s: %w", b.path, err)
	}
	return nil
}

// release closes the file. Where it is damaged, bbolt may wait for ever for a
// lock that nobody will give back; the end of the process releases the file
// then.
func (b *Bolt) release() error {
	if !b.damaged.Load() {
		return b.db.Close()
	}
	closed := make(chan error, 1)
	go func() {
		var err error
		defer func() { closed <- err }()
		defer recoverDamage(&err)
		err = b.db.Close()
	}()
	select {
	case err := <-closed:
		return err
	case <-time.After(time.Second):
		return errors.New("the file is damaged and stays locked until the program ends")
	}
}
