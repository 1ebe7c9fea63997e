package scan

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"
)

// chaptered is an M4A file of sound and, as asked for, a chapter track of texts
// with its edit list, and a list of chapters.
func chaptered(texts []string, deltas []int, perChunk int, edits string, list string) []byte {
	mdat := strings.Repeat("\x00", 64)
	ftyp := bx("ftyp", "M4A \x00\x00\x00\x00")
	at := len(ftyp) + 8
	sizes, chunks, times := "", "", ""
	place := at + len(mdat)
	nChunks := 0
	for i, s := range texts {
		sample := u16(len(s)) + s + bx("encd", "\x00\x00\x01\x00")
		if i%perChunk == 0 {
			chunks += u32(place)
			nChunks++
		}
		sizes += u32(len(sample))
		times += u32(1) + u32(deltas[i])
		mdat += sample
		place += len(sample)
	}
	trak := func(id int, handler, tref, edits, stbl string) string {
		return bx("trak", bx("tkhd", "\x00\x00\x00\x01"+strings.Repeat("\x00", 8)+u32(id)+strings.Repeat("\x00", 68)), edits, tref,
			bx("mdia", bx("mdhd", u32(0)+u32(0)+u32(0)+u32(1000)+u32(0)+u32(0)), bx("hdlr", u32(0)+u32(0)+handler+strings.Repeat("\x00", 13)), bx("minf", bx("stbl", stbl))))
	}
	sound := trak(1, "soun", bx("tref", bx("chap", u32(7)+u32(2))), "", bx("stsz", u32(0)+u32(64)+u32(1))+bx("stco", u32(0)+u32(1)+u32(at))+bx("stsc", u32(0)+u32(1)+u32(1)+u32(1)+u32(1))+bx("stts", u32(0)+u32(1)+u32(1)+u32(9000)))
	text := trak(2, "text", "", edits, bx("stsz", u32(0)+u32(0)+u32(len(texts))+sizes)+bx("stco", u32(0)+u32(nChunks)+chunks)+bx("stsc", u32(0)+u32(1)+u32(1)+u32(perChunk)+u32(1))+bx("stts", u32(0)+u32(len(texts))+times))
	moov := bx("moov", bx("mvhd", u32(0)+u32(0)+u32(0)+u32(500)+u32(0)+strings.Repeat("\x00", 80)), sound, text, bx("udta", list))
	return []byte(ftyp + bx("mdat", mdat) + moov)
}

func chapterWords(list []Chapter) string {
	var s []string
	for _, c := range list {
		s = append(s, fmt.Sprintf("%s %v-%v", c.Title, c.Start, c.End))
	}
	return strings.Join(s, ", ")
}

// TestChaptersByHand: chapter tracks and lists as the formats allow them. ref: as
// in chapters.go.
func TestChaptersByHand(t *testing.T) {
	texts, deltas := []string{"Fog", "", "\xFE\xFF\x00B\x00e"}, []int{1500, 500, 3000}
	const all = "Fog 0s-1.5s,  1.5s-2s, \xFE\xFF\x00B\x00e 2s-5s"
	long := ""
	for i := range 300 {
		long += u32(0) + u32(i*10_000_000) + "\x01x"
	}
	for name, c := range map[string]struct {
		b    []byte
		want string
	}{
		"a sample a chunk":       {chaptered(texts, deltas, 1, "", ""), all},
		"all in one chunk":       {chaptered(texts, deltas, 3, "", ""), all},
		"two in a chunk":         {chaptered(texts, deltas, 2, "", ""), all},
		"put off by a second":    {chaptered(texts[:2], deltas, 1, bx("edts", bx("elst", u32(0)+u32(2)+u32(500)+u32(-1)+u32(1<<16)+u32(1000)+u32(0)+u32(1<<16))), ""), "Fog 1s-2.5s,  2.5s-3s"},
		"brought forward":        {chaptered(texts[:2], deltas, 1, bx("edts", bx("elst", u32(1<<24)+u32(1)+u32(0)+u32(1000)+u32(0)+u32(500)+u32(1<<16))), ""), "Fog 0s-1s,  1s-1.5s"},
		"a list":                 {chaptered(nil, nil, 1, "", bx("chpl", u32(1<<24)+u32(0)+"\x02"+u32(0)+u32(0)+"\x03Fog"+u32(0)+u32(20_000_000)+"\x04Bell")), "Fog 0s-0s, Bell 2s-0s"},
		"a list, version 0":      {chaptered(nil, nil, 1, "", bx("chpl", u32(0)+"\x01"+u32(0)+u32(10_000_000)+"\x03Fog")), "Fog 1s-0s"},
		"a list that is cut off": {chaptered(nil, nil, 1, "", bx("chpl", u32(1<<24)+u32(0)+"\x02"+u32(0)+u32(0)+"\x03Fog"+u32(0)+u32(20_000_000)+"\x09Bell")), "Fog 0s-0s"},
		"the longer of both":     {chaptered(texts[:1], deltas, 1, "", bx("chpl", u32(1<<24)+u32(0)+"\x02"+u32(0)+u32(0)+"\x03Fog"+u32(0)+u32(20_000_000)+"\x04Bell")), "Fog 0s-0s, Bell 2s-0s"},
		"none":                   {chaptered(nil, nil, 1, "", ""), ""},
		"no M4A":                 {wavBytes(10), ""},
	} {
		if got := chapterWords(MP4Chapters(bytes.NewReader(c.b), int64(len(c.b)))); got != c.want {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
	b := chaptered(nil, nil, 1, "", bx("chpl", u32(1<<24)+"\x00"+u32(300)+long))
	if n := len(MP4Chapters(bytes.NewReader(b), int64(len(b)))); n != 300 {
		t.Errorf("%d chapters of a list of 300", n)
	}
}

// FuzzChapters: what is read of chapters is bounded, and so is the reading.
func FuzzChapters(f *testing.F) {
	f.Add(chaptered([]string{"Fog", "Bell"}, []int{1000, 2000}, 1, bx("edts", bx("elst", u32(0)+u32(1)+u32(500)+u32(-1)+u32(1<<16))), bx("chpl", u32(1<<24)+u32(0)+"\x01"+u32(0)+u32(0)+"\x03Fog")))
	f.Fuzz(func(t *testing.T, b []byte) {
		c := &counting{Reader: bytes.NewReader(b)}
		list := MP4Chapters(c, int64(len(b)))
		if len(list) > MaxChapters || len(list) > len(b) {
			t.Fatalf("%d chapters in %d bytes", len(list), len(b))
		}
		for _, x := range list {
			if x.Start < 0 || x.End < 0 || x.End > 0 && x.End < x.Start || len(x.Title) > maxChapterTitle {
				t.Fatalf("%v to %v, %d bytes", x.Start, x.End, len(x.Title))
			}
		}
		if c.n > 100*int64(len(b))+1<<20 {
			t.Fatalf("%d bytes read of %d", c.n, len(b))
		}
	})
}

// A hostile file cannot make the reading of chapters long.
func TestHostileChapters(t *testing.T) {
	moov := func(parts ...string) []byte { return []byte(bx("ftyp", "M4A ") + bx("moov", parts...)) }
	sound := bx("trak", bx("tref", bx("chap", strings.Repeat(u32(1), 500_000))), bx("mdia", bx("hdlr", u32(0)+u32(0)+"soun")))
	text := bx("trak", bx("tkhd", u32(0)+u32(0)+u32(0)+u32(1)+strings.Repeat("\x00", 16)), bx("mdia", bx("mdhd", u32(0)+u32(0)+u32(0)+u32(1)+u32(0)+u32(0)), bx("hdlr", u32(0)+u32(0)+"text"),
		bx("minf", bx("stbl", bx("stsz", u32(0)+u32(2)+u32(1<<31-1)), bx("stco", u32(0)+u32(1)+u32(8)), bx("stsc", u32(0)+u32(1)+u32(1)+u32(1<<31-1)+u32(1)), bx("stts", u32(0)+u32(1)+u32(1<<31-1)+u32(0))))))
	for name, b := range map[string][]byte{
		"references":       moov(sound, text),
		"text tracks":      moov(sound, strings.Repeat(text, 10_000)),
		"tracks of nought": moov(strings.Repeat(bx("trak"), 500_000)),
	} {
		c := &counting{Reader: bytes.NewReader(b)}
		start := time.Now()
		list := MP4Chapters(c, int64(len(b)))
		if len(list) > MaxChapters || c.n > 40*int64(len(b)) {
			t.Errorf("%s: %d chapters, %d bytes read of %d", name, len(list), c.n, len(b))
		}
		t.Logf("%s: %v, %d chapters, read %.1f times", name, time.Since(start), len(list), float64(c.n)/float64(len(b)))
	}
}
