package cache

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

var long = time.Unix(1_000_000_000, 5) // when the files changed last

func open(t testing.TB, dir string) *Cache {
	t.Helper()
	c, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestKeep(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "new", "folder")
	c := open(t, dir)
	c.Put("length", "a", 10, long, []byte("one"))
	c.Put("level", "a", 10, long, []byte("two"))
	c.Put("length", "b", 11, long, []byte("three"))
	c.Put("length", "b", 12, long, []byte("four"))
	c.Put("length", "young", 1, time.Now(), []byte("changing still"))
	c.Put("length", "huge", 1, long, make([]byte, maxValue+1))
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	c = open(t, dir)
	for _, x := range []struct {
		kind, path string
		size       int64
		mod        time.Time
		want       string
	}{
		{"length", "a", 10, long, "one"}, {"level", "a", 10, long, "two"}, {"length", "b", 12, long, "four"},
		{"length", "b", 11, long, ""}, {"length", "a", 10, long.Add(1), ""}, {"length", "c", 10, long, ""}, {"other", "a", 10, long, ""},
		{"length", "young", 1, time.Now(), ""}, {"length", "huge", 1, long, ""},
	} {
		got, ok := c.Get(x.kind, x.path, x.size, x.mod)
		if string(got) != x.want || ok != (x.want != "") {
			t.Errorf("%s of %s, %d bytes: %q, %v; want %q", x.kind, x.path, x.size, got, ok, x.want)
		}
	}
	if err := Clear(dir); err != nil {
		t.Fatal(err)
	}
	if _, ok := open(t, dir).Get("length", "a", 10, long); ok {
		t.Error("there still after Clear")
	}
}

// Whatever is done to the file: what is given is what was put, or nothing.
func TestDamage(t *testing.T) {
	dir := t.TempDir()
	c := open(t, dir)
	for i := range 5 {
		c.Put("k", fmt.Sprint(i), int64(i), long, []byte(fmt.Sprint("value ", i)))
	}
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	name := filepath.Join(dir, fileName)
	whole, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	check := func(b []byte) {
		t.Helper()
		os.WriteFile(name, b, 0o666)
		c := open(t, dir)
		for i := range 5 {
			if got, ok := c.Get("k", fmt.Sprint(i), int64(i), long); ok && string(got) != fmt.Sprint("value ", i) {
				t.Errorf("%q", got)
			}
		}
	}
	for n := range whole {
		check(whole[:n])
		b := bytes.Clone(whole)
		b[n] ^= 0x41
		check(b)
	}
	// A damaged file is put right by the next writer, and what was whole is kept.
	os.WriteFile(name, append(bytes.Clone(whole), "rubbish"...), 0o666)
	c = open(t, dir)
	c.Put("k", "new", 1, long, []byte("n"))
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	b, _ := os.ReadFile(name)
	if validTo(b) != len(b) {
		t.Error("still damaged")
	}
	c = open(t, dir)
	if _, ok := c.Get("k", "3", 3, long); !ok {
		t.Error("what was whole is lost")
	}
}

func TestCompact(t *testing.T) {
	dir := t.TempDir()
	for round := range 60 {
		c := open(t, dir)
		for i := range 100 {
			c.Put("k", fmt.Sprint(i), 1, long, bytes.Repeat([]byte{byte(round)}, 1000))
		}
		if err := c.Close(); err != nil {
			t.Fatal(err)
		}
	}
	st, err := os.Stat(filepath.Join(dir, fileName))
	if err != nil {
		t.Fatal(err)
	}
	// 100 values of 1000 bytes, 60 times over: 6 MB if nothing were thrown away.
	if st.Size() > 3<<20 {
		t.Errorf("%d bytes for 100 kB of values", st.Size())
	}
	if got, ok := open(t, dir).Get("k", "99", 1, long); !ok || got[0] != 59 {
		t.Error("the newest value is lost")
	}
}

// Many caches on one folder at once, in one process and in several: all is kept.
func TestTogether(t *testing.T) {
	if dir := os.Getenv("LONGSIDE_TEST_CACHE"); dir != "" {
		writeAs(t, dir, os.Getenv("LONGSIDE_TEST_NAME"))
		return
	}
	dir := t.TempDir()
	var wg sync.WaitGroup
	for p := range 4 {
		wg.Go(func() { writeAs(t, dir, fmt.Sprint("goroutine", p)) })
		cmd := exec.Command(os.Args[0], "-test.run=^TestTogether$")
		cmd.Env = append(os.Environ(), "LONGSIDE_TEST_CACHE="+dir, "LONGSIDE_TEST_NAME="+fmt.Sprint("process", p))
		wg.Go(func() {
			if out, err := cmd.CombinedOutput(); err != nil {
				t.Errorf("%v: %s", err, out)
			}
		})
	}
	wg.Wait()
	c := open(t, dir)
	for p := range 4 {
		for _, kind := range []string{"goroutine", "process"} {
			for i := range 50 {
				who := fmt.Sprint(kind, p)
				if got, ok := c.Get("k", fmt.Sprint(who, "-", i), 1, long); !ok || string(got) != who {
					t.Fatalf("%s %d: %q", who, i, got)
				}
			}
		}
	}
}

func writeAs(t *testing.T, dir, who string) {
	for round := range 5 {
		c := open(t, dir)
		for i := range 10 {
			c.Put("k", fmt.Sprint(who, "-", round*10+i), 1, long, []byte(who))
		}
		if err := c.Close(); err != nil {
			t.Error(err)
		}
	}
}

func TestUnwritable(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "file")
	os.WriteFile(file, nil, 0o666)
	c, err := Open(filepath.Join(file, "below")) // a folder below a file
	if err == nil {
		c.Put("k", "a", 1, long, []byte("x"))
		err = c.Close()
	}
	if err == nil || strings.Contains(err.Error(), "\n") {
		t.Errorf("%v", err)
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(magic))
	f.Add(appendRecord([]byte(magic), key{1}, entry{size: 1, mod: 2, value: []byte("v")}))
	f.Fuzz(func(t *testing.T, b []byte) {
		known, dead := parse(b)
		n := 0
		for _, e := range known {
			n += len(e.value)
		}
		if n > len(b) || dead < 0 || dead > len(b) || validTo(b) > len(b) {
			t.Fatalf("%d bytes of values, %d dead, in a file of %d", n, dead, len(b))
		}
		// What was parsed and written again parses the same.
		c := &Cache{}
		again, _ := parse(c.compact(known))
		if len(known) != len(again) {
			t.Fatalf("%d records became %d", len(known), len(again))
		}
	})
}

func BenchmarkOpen10000(b *testing.B) {
	dir := b.TempDir()
	c := open(b, dir)
	for i := range 10000 {
		c.Put("k", fmt.Sprint(i), 1, long, make([]byte, 400))
	}
	if err := c.Close(); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		open(b, dir)
	}
}
