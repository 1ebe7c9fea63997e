package media_test

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"longside/media"
	"longside/testdata/reftool"
)

// chapterText is a list of chapters as ffmpeg takes it: 12 s in four.
const chapterText = `;FFMETADATA1
title=The Log of a Night Ferry
artist=The Deckhands
[CHAPTER]
TIMEBASE=1/1000
START=0
END=2345
title=Casting Off
[CHAPTER]
TIMEBASE=1/1000
START=2345
END=6000
title=Nebel über dem Sund
[CHAPTER]
TIMEBASE=1/1000
START=6000
END=9999
title=霧
[CHAPTER]
TIMEBASE=1/1000
START=9999
END=12000
title=Harbour
`

// TestChapters: what ffmpeg wrote into each format is read as ffprobe reads it.
// M4A in both its forms, alone and together.
func TestChapters(t *testing.T) {
	ffmpeg, ffprobe := reftool.Need(t, "ffmpeg"), reftool.Need(t, "ffprobe")
	dir := fileNames(t, map[string][]byte{"a.wav": stereoWAV(roar(12 * 44100)), "chapters": []byte(chapterText)})
	at := func(name string) string { return filepath.Join(dir, name) }
	make := func(name string, args ...string) {
		args = append([]string{"-v", "error", "-nostdin", "-i", at("a.wav"), "-i", at("chapters"), "-map_metadata", "1"}, append(args, at(name))...)
		if out, err := exec.Command(ffmpeg, args...).CombinedOutput(); err != nil {
			t.Fatalf("%s: %v %s", name, err, out)
		}
	}
	make("a.m4a", "-c:a", "aac")
	make("a.m4b", "-c:a", "alac", "-f", "mp4", "-movflags", "+faststart")
	make("a.mp3", "-c:a", "libmp3lame")
	make("v3.mp3", "-c:a", "libmp3lame", "-id3v2_version", "3")
	make("a.flac")
	// ffmpeg writes none into FLAC and Vorbis, and reads them.
	vorbis := []string{"-Q", "-t", "The Log of a Night Ferry", "-a", "The Deckhands", "-o", at("a.ogg"), at("a.wav")}
	for i, c := range []string{"00:00:00.000 Casting Off", "00:00:02.345 Nebel über dem Sund", "00:00:06.000 霧", "00:00:09.999 Harbour"} {
		start, name, _ := strings.Cut(c, " ")
		out, err := exec.Command(reftool.Need(t, "metaflac"), fmt.Sprintf("--set-tag=CHAPTER%03d=%s", i+1, start), fmt.Sprintf("--set-tag=CHAPTER%03dNAME=%s", i+1, name), at("a.flac")).CombinedOutput()
		if err != nil {
			t.Fatalf("%v %s", err, out)
		}
		vorbis = append(vorbis, "-c", fmt.Sprintf("CHAPTER%03d=%s", i+1, start), "-c", fmt.Sprintf("CHAPTER%03dNAME=%s", i+1, name))
	}
	if out, err := exec.Command(reftool.Need(t, "oggenc"), vorbis...).CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, out)
	}
	make("a.opus", "-c:a", "libopus")
	// One form of M4A alone: the box of the other gets a name that means nothing.
	both, err := os.ReadFile(at("a.m4a"))
	if err != nil {
		t.Fatal(err)
	}
	for name, box := range map[string]string{"track.m4a": "chpl", "list.m4a": "chap"} {
		if bytes.Count(both, []byte(box)) != 1 {
			t.Fatalf("%d boxes %s", bytes.Count(both, []byte(box)), box)
		}
		os.WriteFile(at(name), bytes.Replace(both, []byte(box), []byte("free"), 1), 0o666)
	}
	for _, name := range []string{"a.m4a", "track.m4a", "list.m4a", "a.m4b", "a.mp3", "v3.mp3", "a.flac", "a.ogg", "a.opus"} {
		out, err := exec.Command(ffprobe, "-v", "error", "-show_chapters", "-of", "json", at(name)).Output()
		if err != nil {
			t.Fatal(err)
		}
		var said struct {
			Chapters []struct {
				Start string `json:"start_time"`
				Tags  struct{ Title string }
			}
		}
		if err := json.Unmarshal(out, &said); err != nil || len(said.Chapters) != 4 {
			t.Fatalf("%s: %s", name, out)
		}
		got := read(t, media.Options{Chapters: true}, at(name))
		whole := read(t, media.Options{}, at(name))
		if len(got) != 4 || len(whole) != 1 || len(whole[0].Chapters) != 4 || whole[0].Title != "The Log of a Night Ferry" {
			t.Errorf("%s: %d chapters, or %d tracks with %v: %q", name, len(got), len(whole), whole[0].Chapters, whole[0].Title)
			continue
		}
		var sum time.Duration
		var samples int64
		for i, c := range said.Chapters {
			tr := got[i]
			start, _ := strconv.ParseFloat(c.Start, 64)
			if math.Abs(tr.From.Seconds()-start) > 0.001 || tr.From != whole[0].Chapters[i] {
				t.Errorf("%s: chapter %d begins at %v, ffprobe says %s", name, i+1, tr.From, c.Start)
			}
			if tr.Title != c.Tags.Title || tr.Artist != "The Deckhands" || tr.Number != i+1 || !tr.Part {
				t.Errorf("%s: chapter %d: %+v, want %q", name, i+1, tr, c.Tags.Title)
			}
			sum += tr.Length
			samples += tr.Samples
		}
		if sum != whole[0].Length || samples != whole[0].Samples {
			t.Errorf("%s: %v and %d samples in chapters, %v and %d in all", name, sum, samples, whole[0].Length, whole[0].Samples)
		}
	}
	// Another reader of M4A: mkvmerge, with the times that mkvextract gives back.
	mkvmerge, mkvextract := reftool.Need(t, "mkvmerge"), reftool.Need(t, "mkvextract")
	for _, name := range []string{"track.m4a", "list.m4a", "a.m4b"} {
		if out, err := exec.Command(mkvmerge, "-q", "-o", at("x.mka"), at(name)).CombinedOutput(); err != nil {
			t.Fatalf("%v %s", err, out)
		}
		out, err := exec.Command(mkvextract, at("x.mka"), "chapters", "--simple").Output()
		if err != nil {
			t.Fatal(err)
		}
		for i, tr := range read(t, media.Options{Chapters: true}, at(name)) {
			m := regexp.MustCompile(fmt.Sprintf(`CHAPTER%02d=0*0:0*0:0*([\d.]*)\r?\nCHAPTER%02dNAME=(.*?)\r?\n`, i+1, i+1)).FindSubmatch(out)
			if m == nil {
				t.Fatalf("%s: no chapter %d in %s", name, i+1, out)
			}
			start, _ := strconv.ParseFloat("0"+string(m[1]), 64)
			if math.Abs(start-tr.From.Seconds()) > 0.001 || string(m[2]) != tr.Title {
				t.Errorf("%s: chapter %d: %v %q, mkvmerge says %q %q", name, i+1, tr.From, tr.Title, m[1], m[2])
			}
		}
	}
}

// chap is a CHAP frame of ID3v2, with a title in UTF-8 where one is given.
// ref: ID3v2 Chapter Frame Addendum 3.1.
func chap(id string, from, to uint32, title string) []byte {
	b := append([]byte(id), 0)
	b = binary.BigEndian.AppendUint32(b, from)
	b = binary.BigEndian.AppendUint32(b, to)
	b = append(b, "\xFF\xFF\xFF\xFF\xFF\xFF\xFF\xFF"...)
	if title != "" {
		b = append(b, id3Frame("TIT2", append([]byte{3}, title...))...)
	}
	return id3Frame("CHAP", b)
}

func id3Frame(name string, body []byte) []byte {
	n := len(body)
	return append(append([]byte(name), byte(n>>21&0x7F), byte(n>>14&0x7F), byte(n>>7&0x7F), byte(n&0x7F), 0, 0), body...)
}

func id3Tag(frames ...[]byte) []byte {
	body := bytes.Join(frames, nil)
	n := len(body)
	return append([]byte{'I', 'D', '3', 4, 0, 0, byte(n >> 21 & 0x7F), byte(n >> 14 & 0x7F), byte(n >> 7 & 0x7F), byte(n & 0x7F)}, body...)
}

// TestOddChapters: chapters as they come: out of order, within one another, with
// holes, without names, beyond the end, with a picture behind the name.
func TestOddChapters(t *testing.T) {
	// A WAV of 12 s with an ID3v2 tag in front is cut as any other.
	sound := stereoWAV(roar(12 * 44100))
	many := make([][]byte, 0, 300)
	for i := range uint32(300) {
		many = append(many, chap(fmt.Sprint(i), i*40, i*40+40, ""))
	}
	for name, c := range map[string]struct {
		tag  []byte
		want string
	}{
		"out of order":      {id3Tag(chap("b", 5000, 12000, "Bell"), chap("a", 0, 5000, "Fog")), "Fog 0+5, Bell 5+7"},
		"ends a little off": {id3Tag(chap("a", 20, 4999, "Fog"), chap("b", 5000, 11400, "Bell")), "Fog 0+5, Bell 5+7"},
		"a hole between":    {id3Tag(chap("a", 0, 3000, "Fog"), chap("b", 5000, 9000, "Bell")), "Fog 0+3, Bell 5+4"},
		"no names":          {id3Tag(chap("a", 0, 3000, ""), chap("b", 3000, 12000, "\x01")), "Chapter 1 0+3, Chapter 2 3+9"},
		"parts of a part":   {id3Tag(chap("p", 0, 6000, "Part"), chap("a", 0, 3000, "Fog"), chap("b", 3000, 6000, "Bell"), chap("q", 6000, 12000, "Rest")), "Part 0+6, Rest 6+6"},
		"the table says":    {id3Tag(id3Frame("CTOC", []byte("t\x00\x03\x02b\x00c\x00")), chap("a", 0, 12000, "All"), chap("b", 0, 3000, "Fog"), chap("c", 3000, 12000, "Bell")), "Fog 0+3, Bell 3+9"},
		"a table of tables": {id3Tag(id3Frame("CTOC", []byte("t\x00\x03\x01u\x00")), chap("b", 0, 3000, "Fog"), chap("c", 3000, 12000, "Bell")), "Fog 0+3, Bell 3+9"},
		"beyond the end":    {id3Tag(chap("a", 0, 3000, "Fog"), chap("b", 3000, 4000000000, "Bell"), chap("c", 13000, 14000, "Gong")), "Fog 0+3, Bell 3+9"},
		"late":              {id3Tag(chap("a", 2000, 3000, "Fog"), chap("b", 3000, 12000, "Bell")), "Fog 2+1, Bell 3+9; 0:02.00 of sound lie before it in the file and are in no chapter"},
		"turned round":      {id3Tag(chap("a", 3000, 0, "Fog"), chap("b", 5000, 4000, "Bell"), chap("c", 6000, 7000, "Gong")), "Fog 3+3, Gong 6+1; 0:03.00 of sound lie before it in the file and are in no chapter"},
		"only one":          {id3Tag(chap("a", 0, 12000, "Fog")), "x 0+12 whole"},
		"cut off":           {id3Tag(chap("a", 0, 12000, "Fog")[:20]), "x 0+12 whole"},
		"picture behind":    {id3Tag(id3Frame("CHAP", append(chap("a", 0, 3000, "Fog")[10:], id3Frame("APIC", bytes.Repeat([]byte{1}, 200_000))...)), chap("b", 3000, 12000, "Bell")), "Fog 0+3, Bell 3+9"},
		"many":              {id3Tag(many...), "Chapter 1 0+0.04 ... 300"},
	} {
		dir := fileNames(t, map[string][]byte{"x.wav": append(c.tag, sound...)})
		var list []string
		var notes []string
		for _, tr := range read(t, media.Options{Chapters: true}, dir) {
			s := fmt.Sprintf("%s %g+%g", tr.Title, tr.From.Seconds(), tr.Length.Seconds())
			if !tr.Part {
				s += " whole"
			}
			list = append(list, s)
			notes = append(notes, tr.Notes...)
		}
		got := strings.Join(list, ", ")
		if len(list) > 10 {
			got = fmt.Sprintf("%s ... %d", list[0], len(list))
		}
		if len(notes) > 0 {
			got += "; " + strings.Join(notes, "; ")
		}
		if got != c.want {
			t.Errorf("%s: %s\nwant %s", name, got, c.want)
		}
	}
}
