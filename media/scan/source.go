package scan

import (
	"bytes"
	"errors"
	"io"
	"sync"
)

// window is how much is read at once. The bare floor for a file is one read of
// 4 KB; walking reads in larger pieces.
const (
	window     = 4 << 10
	walkWindow = 128 << 10
)

// source gives short stretches of a file through one reused buffer, so that a
// scanner may ask for four bytes at a time.
type source struct {
	r    io.ReaderAt
	size int64
	buf  []byte // the bytes [off, off+len(buf)) of the file
	off  int64
	mem  *[]byte // what buf is cut from
	step int     // bytes to read at once
	err  error   // the first failure to read, other than the end of the file
}

var buffers = sync.Pool{New: func() any { b := make([]byte, walkWindow); return &b }}

func newSource(r io.ReaderAt, size int64) *source {
	return &source{r: r, size: size, mem: buffers.Get().(*[]byte), step: window}
}

func (s *source) free() {
	buffers.Put(s.mem)
	s.buf, s.mem = nil, nil
}

// large makes the reads that follow large ones.
func (s *source) large() { s.step = walkWindow }

// at gives n bytes from off on (n at most walkWindow), fewer at the end of the
// file or when it cannot be read. They are good until the next call.
func (s *source) at(off int64, n int) []byte {
	if off < 0 || off >= s.size || n <= 0 || s.err != nil {
		return nil
	}
	n = int(min(int64(n), s.size-off, walkWindow))
	if rel := off - s.off; rel >= 0 && rel+int64(n) <= int64(len(s.buf)) {
		return s.buf[rel : rel+int64(n)]
	}
	b := (*s.mem)[:min(int64(max(n, s.step)), s.size-off)]
	got, err := s.r.ReadAt(b, off)
	if err != nil && !errors.Is(err, io.EOF) {
		s.err = err
		got = 0
	}
	s.buf, s.off = b[:got], off
	return s.buf[:min(n, got)]
}

// indexSync finds FF followed by a byte that under the mask is want; without one
// it gives the place of the last byte.
func indexSync(b []byte, mask, want byte) int {
	for i := 0; ; i++ {
		n := bytes.IndexByte(b[i:], 0xFF)
		if i += n; n < 0 || i+1 >= len(b) {
			return len(b) - 1
		}
		if b[i+1]&mask == want {
			return i
		}
	}
}

// be and le read n bytes as an unsigned number; b must hold them.
func be(b []byte, n int) uint64 {
	var v uint64
	for _, c := range b[:n] {
		v = v<<8 | uint64(c)
	}
	return v
}

func le(b []byte, n int) uint64 {
	var v uint64
	for i := n - 1; i >= 0; i-- {
		v = v<<8 | uint64(b[i])
	}
	return v
}
