package scan

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"longside/testdata/reftool"
)

// TestW64: what ffmpeg and sox write as Wave64 has the length that they were
// given, in every usual kind of sample, written to a file and to a pipe.
func TestW64(t *testing.T) {
	ffmpeg, sox := reftool.Need(t, "ffmpeg"), reftool.Need(t, "sox")
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	const n = 12345 // odd, and no multiple of eight bytes in any kind
	if out, err := exec.Command(sox, "-R", "-r", "44100", "-n", "-c", "1", "-b", "16", at("a.wav"), "synth", strconv.Itoa(n)+"s", "sine", "440").CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, out)
	}
	for _, codec := range []string{"pcm_u8", "pcm_s16le", "pcm_s24le", "pcm_s32le", "pcm_f32le", "pcm_f64le", "pcm_alaw", "pcm_mulaw"} {
		for _, to := range []string{"file", "pipe"} {
			args := []string{"-v", "error", "-nostdin", "-y", "-i", at("a.wav"), "-c:a", codec, "-f", "w64"}
			var b []byte
			var err error
			if to == "pipe" {
				b, err = exec.Command(ffmpeg, append(args, "-")...).Output()
			} else if err = exec.Command(ffmpeg, append(args, at("b.w64"))...).Run(); err == nil {
				b, err = os.ReadFile(at("b.w64"))
			}
			if err != nil {
				t.Fatal(codec, err)
			}
			info, err := File(bytes.NewReader(b), int64(len(b)))
			// ffmpeg counts the padding, less than eight bytes, as sound, and leaves it out
			// of a pipe, where the file's size counts.
			want, from := int64(n), Counted
			if width := max(1, info.PCM.BytesPerSample); to == "file" {
				want, from = int64(n+(8-n*width%8)%8/width), Header
			}
			if err != nil || info.Format != "W64" || info.Samples != want || info.From != from || info.Rate != 44100 || info.Channels != 1 || (len(info.Notes) > 0) != (to == "pipe") {
				t.Errorf("%s by %s: %d samples of %d, %s, %v, %v", codec, to, info.Samples, want, info.From, info.Notes, err)
			}
			laws(t, b)
		}
	}
	if out, err := exec.Command(sox, at("a.wav"), at("c.w64")).CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, out)
	}
	if info := scanName(t, at("c.w64"), quick); info.Samples != n || info.From != Header {
		t.Errorf("sox: %+v", info)
	}
}

// wchunk is a chunk of WAV with its padding, wchunkOdd one without.
func wchunk(id, body string) string { return wchunkOdd(id, body) + "\x00"[:len(body)%2] }

func wchunkOdd(id, body string) string {
	return id + string(binary.LittleEndian.AppendUint32(nil, uint32(len(body)))) + body
}

// w64chunk is a chunk of Wave64.
func w64chunk(id, body string) string {
	return id + w64Tail + le64(int64(len(body))+24) + body + strings.Repeat("\x00", (8-len(body)%8)%8)
}

// The chunks that broadcast and field recorders, editors and archives write
// around the sound, and sizes as they should not be.
// ref: EBU Tech 3285 (bext), 3306 (RF64); ITU-R BS.2088 (BW64: ds64, axml, chna);
// RIFF in "Multimedia Programming Interface and Data Specifications 1.0".
func TestWAVAsPeopleHaveIt(t *testing.T) {
	const frames = 5000
	sound := strings.Repeat("Fog \x01\x80\x7F\xFF", frames/2) // 2 channels of 16 bits
	form := "\x01\x00\x02\x00\x44\xAC\x00\x00\x10\xB1\x02\x00\x04\x00\x10\x00"
	fmtc, data := wchunk("fmt ", form), wchunk("data", sound)
	bext := wchunk("bext", strings.Repeat("x", 602)+"A=PCM,F=44100\r\n") // odd: 617
	ixml := "<?xml version=\"1.0\"?><BWFXML></BWFXML>\n"
	info := wchunk("LIST", "INFOINAM\x04\x00\x00\x00Fog\x00")
	riff := func(parts ...string) string {
		body := "WAVE" + strings.Join(parts, "")
		return "RIFF" + string(binary.LittleEndian.AppendUint32(nil, uint32(len(body)))) + body
	}
	long := func(id, size, table string, parts ...string) string {
		ds64 := le64(0) + size + le64(frames) + string(binary.LittleEndian.AppendUint32(nil, uint32(len(table)/12))) + table
		return id + "\xFF\xFF\xFF\xFFWAVE" + wchunk("ds64", ds64) + strings.Join(parts, "")
	}
	endless := "data\xFF\xFF\xFF\xFF" + sound
	mono8 := wchunk("fmt ", "\x01\x00\x01\x00\x40\x1F\x00\x00\x40\x1F\x00\x00\x01\x00\x08\x00")
	w64 := func(parts ...string) string {
		body := strings.Join(parts, "")
		return w64Riff + le64(int64(len(body))+40) + "wave" + w64Tail + body
	}
	// ff and sx: whether ffmpeg and sox read the same. They refuse the rest, but
	// sox, which takes what follows the sound of a W64 for sound.
	for name, c := range map[string]struct {
		file    string
		samples int64
		note    string
		tags    int
		ff, sx  bool
	}{
		"bext, iXML":                  {riff(bext, wchunk("iXML", ixml), fmtc, data), frames, "", 0, true, true},
		"after the sound":             {riff(fmtc, data, bext, info), frames, "", 1, true, true},
		"room for ds64":               {riff(wchunk("JUNK", strings.Repeat("\x00", 28)), fmtc, data), frames, "", 0, true, true},
		"filled up to a block":        {riff(fmtc, wchunk("FLLR", strings.Repeat("\x00", 4044)), data), frames, "", 0, true, true},
		"odd and not padded":          {riff(wchunkOdd("iXML", ixml), fmtc, data), frames, "", 0, false, false},
		"odd and not padded, between": {riff(fmtc, wchunkOdd("iXML", ixml), data), frames, "", 0, false, false},
		"odd sound":                   {riff(mono8, wchunk("data", sound[:1001]), info), 1001, "", 1, true, true},
		"odd sound, not padded":       {riff(mono8, wchunkOdd("data", sound[:1001]), info), 1001, "", 1, true, true},
		"sound before its format":     {riff(data, fmtc), frames, "", 0, true, false},
		"zeros in a name":             {riff(wchunk("id\x00\x00", "xxxxxx"), fmtc, data), frames, "", 0, true, false},
		"odd format chunk":            {riff(wchunk("fmt ", form+"\x00"), data), frames, "", 0, true, false},
		"wrong outer size":            {"RIFF\x04\x00\x00\x00" + riff(fmtc, data)[8:], frames, "", 0, true, true},
		"RF64":                        {long("RF64", le64(4*frames), "", fmtc, endless), frames, "", 0, true, true},
		"RF64, chunks around":         {long("RF64", le64(4*frames), "", bext, fmtc, endless, wchunk("iXML", ixml), info), frames, "", 1, true, true},
		"RF64, a table of sizes":      {long("RF64", le64(4*frames), "big1"+le64(40), fmtc, "big1\xFF\xFF\xFF\xFF"+strings.Repeat("x", 40), endless), frames, "", 0, false, false},
		"RF64 that fits in 32 bits":   {long("RF64", le64(4*frames), "", fmtc, data), frames, "", 0, true, true},
		"RF64, never finished":        {long("RF64", le64(0), "", fmtc, endless), frames, "streamed", 0, false, false},
		"RF64, cut off":               {long("RF64", le64(4*frames+400_000), "", fmtc, endless), frames, "cut off", 0, true, true},
		"BW64, chna and axml":         {long("BW64", le64(4*frames), "", fmtc, wchunk("chna", strings.Repeat("\x00", 84)), wchunk("axml", ixml), endless), frames, "", 0, true, false},
		"BW64, axml behind":           {long("BW64", le64(4*frames), "", fmtc, endless, wchunk("axml", ixml)), frames, "", 0, true, false},
		"W64":                         {w64(w64chunk("fmt ", form), w64chunk("data", sound)), frames, "", 0, true, true},
		"W64, bext and levl":          {w64(w64chunk("bext", strings.Repeat("x", 617)), w64chunk("fmt ", form), w64chunk("levl", "xyz"), w64chunk("data", sound), w64chunk("junk", "x")), frames, "", 0, true, false},
		"W64, another GUID":           {w64("\xBC\x94\x5F\x92\x5A\x52\xD2\x11\x86\xDC\x00\xC0\x4F\x8E\xDB\x8A"+le64(32)+"12345678", w64chunk("fmt ", form), w64chunk("data", sound)), frames, "", 0, true, true},
		"W64, cut off":                {w64(w64chunk("fmt ", form), w64chunk("data", sound))[:104+4*1000], 1000, "cut off", 0, true, true},
	} {
		b := []byte(c.file)
		got, err := laws(t, b)
		notes := strings.Join(got.Notes, "; ")
		if err != nil || got.Samples != c.samples || !strings.Contains(notes, c.note) || c.note == "" && notes != "" || len(got.Tags) != c.tags {
			t.Errorf("%s: %d samples of %d, %q, %d tags, %v", name, got.Samples, c.samples, notes, len(got.Tags), err)
			continue
		}
		ext := ".wav"
		if got.Format == "W64" {
			ext = ".w64"
		}
		path := filepath.Join(t.TempDir(), "x"+ext)
		if err := os.WriteFile(path, b, 0o666); err != nil {
			t.Fatal(err)
		}
		form := []string{"-t", "raw", "-e", "signed", "-b", "32", "-"}
		for _, judge := range []struct {
			by   string
			same bool
			cmd  *exec.Cmd
		}{
			{"ffmpeg", c.ff, exec.Command(reftool.Need(t, "ffmpeg"), "-v", "quiet", "-i", path, "-f", "s32le", "-")},
			{"sox", c.sx, exec.Command(reftool.Need(t, "sox"), append([]string{path}, form...)...)},
		} {
			raw, _ := judge.cmd.Output()
			if n := int64(len(raw) / 4 / got.Channels); (n == c.samples) != judge.same {
				t.Errorf("%s: %s reads %d samples of %d; expected the same: %v", name, judge.by, n, c.samples, judge.same)
			}
		}
	}
	for name, b := range map[string]string{
		"no format": w64(w64chunk("data", sound)), "no sound": w64(w64chunk("fmt ", form)), "sizes of nought": w64("fmt " + w64Tail + le64(0) + form),
		"sizes below nought": w64("fmt " + w64Tail + le64(-8) + form), "only its mark": w64Riff,
	} {
		if info, err := laws(t, []byte(b)); err == nil {
			t.Errorf("%s: %+v", name, info)
		}
	}
	huge := sparse{5<<30 + 104, map[int64]string{0: w64Riff + le64(5<<30+104) + "wave" + w64Tail + w64chunk("fmt ", form) + "data" + w64Tail + le64(5<<30+24)}}
	if info, err := File(huge, huge.size); err != nil || info.Samples != 5<<28 || info.From != Header {
		t.Errorf("5 GB: %s, %v", fmt.Sprint(info.Samples, info.From), err)
	}
}
