// Package cache keeps what was learnt of a file, so that a second run need not
// read it again.
//
// Open a Cache on a folder (Dir is the usual one), Get and Put while working,
// and Close it: what was put is then appended. A value is bytes under a kind, a
// path, a size and a time; of a file with another size or time nothing is known.
// Put the version of your encoding into the kind: old values are then not found.
//
// Everything here can be deleted at any time. Two programs may use one folder at
// once: each sees what was there when it opened it, and both keep what they
// learnt. A damaged cache is a smaller one, never an error in the work itself.
package cache

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"time"

	"github.com/adrg/xdg"

	"longside/media/stage"
)

// Dir is the folder for the cache by the XDG base directory specification:
// XDG_CACHE_HOME/longside, or what the system has in its place.
func Dir() string { return filepath.Join(xdg.CacheHome, "longside") }

const (
	fileName = "learnt"
	lockName = "learnt.lock"

	// magic is the file's first line. Another version is another file to us: it is
	// left out and replaced.
	magic = "longside cache 1\n"

	// maxValue and maxFile bound what a damaged or hostile file can make us hold.
	maxValue = 64 << 10
	maxFile  = 128 << 20
	keepFile = maxFile / 2 // what is kept when it grows beyond maxFile: the newest

	// patience is how long Close waits for another program to finish writing.
	patience = 5 * time.Second
)

// Cache is an open cache. It may be used by several goroutines.
type Cache struct {
	dir string

	mu    sync.Mutex
	known map[key]entry
	fresh []byte // records put since Open
}

type key [16]byte

type entry struct {
	size  int64
	mod   int64
	value []byte
	rec   int // bytes of its record
}

// record: 4 bytes length of what follows, 16 key, 8 size, 8 time, value, 4 CRC
// over all but itself; numbers big-endian.
const (
	recHead = 4 + 16 + 8 + 8
	recTail = 4
)

// Open reads the cache in a folder, which need not exist yet. The error is for a
// folder that cannot be read; the work can go on without a cache.
func Open(dir string) (*Cache, error) {
	c := &Cache{dir: dir, known: map[key]entry{}}
	b, err := readFile(filepath.Join(dir, fileName))
	if errors.Is(err, fs.ErrNotExist) {
		return c, nil
	}
	if err != nil {
		return nil, fmt.Errorf("cache %q: %w; it can be deleted", dir, err)
	}
	c.known, _ = parse(b)
	return c, nil
}

// readFile reads the cache file; nothing of one that is too large to be ours.
func readFile(name string) ([]byte, error) {
	st, err := os.Stat(name)
	if err != nil {
		return nil, err
	}
	if !st.Mode().IsRegular() || st.Size() > maxFile+maxValue {
		return nil, nil
	}
	return os.ReadFile(name)
}

// parse takes the records up to the first damaged one; later ones replace earlier ones.
func parse(b []byte) (known map[key]entry, dead int) {
	known = map[key]entry{}
	if !bytes.HasPrefix(b, []byte(magic)) {
		return known, len(b)
	}
	b = b[len(magic):]
	for len(b) > 0 {
		k, e, ok := parseRecord(b)
		if !ok {
			return known, dead + len(b)
		}
		dead += known[k].rec
		known[k] = e
		b = b[e.rec:]
	}
	return known, dead
}

func parseRecord(b []byte) (k key, e entry, ok bool) {
	if len(b) < recHead+recTail {
		return k, e, false
	}
	n := int(binary.BigEndian.Uint32(b))
	e.rec = 4 + n
	if n < recHead+recTail-4 || n > recHead+recTail+maxValue || e.rec > len(b) {
		return k, e, false
	}
	body := b[:e.rec-recTail]
	if crc32.ChecksumIEEE(body) != binary.BigEndian.Uint32(b[e.rec-recTail:]) {
		return k, e, false
	}
	copy(k[:], body[4:])
	e.size = int64(binary.BigEndian.Uint64(body[20:]))
	e.mod = int64(binary.BigEndian.Uint64(body[28:]))
	e.value = body[recHead:]
	return k, e, true
}

func appendRecord(b []byte, k key, e entry) []byte {
	start := len(b)
	b = binary.BigEndian.AppendUint32(b, uint32(recHead-4+len(e.value)+recTail))
	b = append(b, k[:]...)
	b = binary.BigEndian.AppendUint64(b, uint64(e.size))
	b = binary.BigEndian.AppendUint64(b, uint64(e.mod))
	b = append(b, e.value...)
	return binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(b[start:]))
}

func keyOf(kind, path string) (k key) {
	if abs, err := filepath.Abs(path); err == nil {
		path = abs
	}
	sum := sha256.Sum256([]byte(kind + "\x00" + path))
	copy(k[:], sum[:])
	return k
}

// Get gives the value that was put under the same kind, path, size and time.
func (c *Cache) Get(kind, path string, size int64, mod time.Time) (value []byte, ok bool) {
	k := keyOf(kind, path)
	c.mu.Lock()
	defer c.mu.Unlock()
	e, ok := c.known[k]
	if !ok || e.size != size || e.mod != mod.UnixNano() {
		return nil, false
	}
	return bytes.Clone(e.value), true
}

// Put keeps a value, of 64 KiB at most; a larger one is not kept. Files that
// changed within the last two seconds are left out: a second change could leave
// size and time as they are.
func (c *Cache) Put(kind, path string, size int64, mod time.Time, value []byte) {
	if len(value) > maxValue || time.Since(mod) < 2*time.Second {
		return
	}
	k := keyOf(kind, path)
	e := entry{size: size, mod: mod.UnixNano(), value: bytes.Clone(value)}
	e.rec = recHead + len(value) + recTail
	c.mu.Lock()
	defer c.mu.Unlock()
	c.known[k] = e
	c.fresh = appendRecord(c.fresh, k, e)
}

// Close writes what was put. The error says that it could not be kept; the work
// is not harmed by that.
func (c *Cache) Close() error { return c.Save(context.Background()) }

// Save is Close that waits for no other program once ctx has ended.
func (c *Cache) Save(ctx context.Context) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if len(c.fresh) == 0 {
		return nil
	}
	if err := c.write(ctx); err != nil {
		return fmt.Errorf("cache %q: not kept: %w", c.dir, err)
	}
	c.fresh = nil
	return nil
}

func (c *Cache) write(ctx context.Context) error {
	if err := os.MkdirAll(c.dir, 0o700); err != nil {
		return err
	}
	free, err := stage.Lock(ctx, filepath.Join(c.dir, lockName), patience)
	if err != nil {
		return err
	}
	defer free()
	name := filepath.Join(c.dir, fileName)
	// Another program may have written since: what is there now counts.
	b, err := readFile(name)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	known, dead := parse(b)
	whole := len(b) > 0 && validTo(b) == len(b)
	if whole && dead < len(b)/2+1<<20 && len(b)+len(c.fresh) <= maxFile {
		return appendTo(name, c.fresh)
	}
	// Once it is begun it is not stopped: it is a matter of milliseconds.
	return stage.Replace(context.WithoutCancel(ctx), name, c.compact(known), stage.Options{Mode: 0o600})
}

// validTo is how far the records of a file are whole.
func validTo(b []byte) int {
	if !bytes.HasPrefix(b, []byte(magic)) {
		return 0
	}
	at := len(magic)
	for at < len(b) {
		_, e, ok := parseRecord(b[at:])
		if !ok {
			return at
		}
		at += e.rec
	}
	return at
}

func appendTo(name string, b []byte) error {
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_APPEND, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(b)
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	return err
}

// compact makes the file anew: what is known, then what is fresh, in the order of
// keys so that the same contents are the same bytes. When that is too much, the
// older part goes.
func (c *Cache) compact(known map[key]entry) []byte {
	for rest := c.fresh; len(rest) > 0; {
		k, e, ok := parseRecord(rest)
		if !ok {
			break
		}
		delete(known, k)
		rest = rest[e.rec:]
	}
	keys := make([]key, 0, len(known))
	for k := range known {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b key) int { return bytes.Compare(a[:], b[:]) })
	fresh := c.fresh
	for len(fresh) > keepFile {
		_, e, ok := parseRecord(fresh)
		if !ok {
			fresh = nil
			break
		}
		fresh = fresh[e.rec:]
	}
	b := []byte(magic)
	for _, k := range keys {
		if len(b)+len(fresh) > keepFile {
			break
		}
		b = appendRecord(b, k, known[k])
	}
	return append(b, fresh...)
}

// Clear deletes the cache in a folder.
func Clear(dir string) error {
	for _, name := range []string{fileName, lockName} {
		if err := os.Remove(filepath.Join(dir, name)); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("cache %q: cannot be deleted: %w", dir, err)
		}
	}
	return nil
}
