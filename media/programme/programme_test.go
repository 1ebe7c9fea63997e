package programme

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"longside/media/decode"
	"longside/testdata/reftool"
)

// writeWAV writes 16-bit stereo whose samples are f(frame, channel).
func writeWAV(t testing.TB, path string, rate, frames int, f func(i, c int) int16) {
	t.Helper()
	data := make([]byte, 0, 4*frames)
	for i := range frames {
		for c := range 2 {
			data = binary.LittleEndian.AppendUint16(data, uint16(f(i, c)))
		}
	}
	h := []byte("RIFF\x00\x00\x00\x00WAVEfmt \x10\x00\x00\x00\x01\x00\x02\x00")
	h = binary.LittleEndian.AppendUint32(h, uint32(rate))
	h = binary.LittleEndian.AppendUint32(h, uint32(4*rate))
	h = append(h, 4, 0, 16, 0)
	h = append(h, "data"...)
	h = binary.LittleEndian.AppendUint32(h, uint32(len(data)))
	binary.LittleEndian.PutUint32(h[4:], uint32(len(h)-8+len(data)))
	if err := os.WriteFile(path, append(h, data...), 0o666); err != nil {
		t.Fatal(err)
	}
}

// count is a sound in which every sample tells its place.
func count(i, c int) int16 { return int16((i*2+c)%60000 - 30000) }

// steady is never silent.
func steady(int, int) int16 { return 8000 }

// make writes a programme and reads it back as 16- or 24-bit numbers.
func makeIt(t testing.TB, cues []Cue, end time.Duration, o Options) (*Layout, []int32, string) {
	t.Helper()
	l, err := Lay(context.Background(), cues, end, o)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "side.wav")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	notes, err := l.Write(context.Background(), f, Text{Title: "The Crossing, side A", Comment: "Turn the monitor down."}, o)
	if err != nil {
		t.Fatal(err)
	}
	f.Close()
	if len(notes) > 0 {
		t.Logf("notes: %q", notes)
	}
	return l, samples(t, path), path
}

// samples reads the numbers of a stereo WAV of ours.
func samples(t testing.TB, path string) []int32 {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	i := bytes.Index(b, []byte("data"))
	n := int(binary.LittleEndian.Uint32(b[i+4:]))
	width := int(binary.LittleEndian.Uint16(b[bytes.Index(b, []byte("fmt "))+22:])) / 8
	b = b[i+8 : i+8+n]
	out := make([]int32, n/width)
	for k := range out {
		var v int32
		for j := width - 1; j >= 0; j-- {
			v = v<<8 | int32(b[k*width+j])
		}
		out[k] = v << (32 - 8*width) >> (32 - 8*width)
	}
	return out
}

// A plan's start times hold to the sample, what lies between is silence, and
// what needs no change is not changed.
func TestSampleExact(t *testing.T) {
	dir := t.TempDir()
	a, b := filepath.Join(dir, "a.wav"), filepath.Join(dir, "b.wav")
	writeWAV(t, a, 44100, 50000, count)
	writeWAV(t, b, 44100, 30000, count)
	for _, bits := range []int{16, 24} {
		l, x, _ := makeIt(t, []Cue{
			{Title: "a", Path: a, Start: 7 * time.Second},
			{Title: "b", Path: b, Start: 12*time.Second + 345*time.Millisecond},
		}, 20*time.Second, Options{Bits: bits, Workers: 2})
		if l.Frames != 20*44100 || len(x) != 2*20*44100 {
			t.Fatalf("%d frames laid, %d written", l.Frames, len(x)/2)
		}
		at := []int{7 * 44100, 12*44100 + 15215} // 0.345 x 44100 = 15214.5, to the nearest
		length := []int{50000, 30000}
		shift := uint(bits - 16)
		for i := range len(x) / 2 {
			var want [2]int32
			for k := range at {
				if i >= at[k] && i < at[k]+length[k] {
					want = [2]int32{int32(count(i-at[k], 0)) << shift, int32(count(i-at[k], 1)) << shift}
				}
			}
			if x[2*i] != want[0] || x[2*i+1] != want[1] {
				t.Fatalf("%d bits, frame %d: %d %d, want %v", bits, i, x[2*i], x[2*i+1], want)
			}
		}
	}
}

// A track that needs no change is not changed by one joined to it that does: the
// dither of the one begins and ends with it, in the middle of a block.
func TestExactBesideDithered(t *testing.T) {
	dir := t.TempDir()
	a, b := filepath.Join(dir, "a.wav"), filepath.Join(dir, "b.wav")
	const n = 3*block + 1234
	writeWAV(t, a, 44100, n, count)
	writeWAV(t, b, 44100, n, steady)
	_, x, _ := makeIt(t, []Cue{{Path: a}, {Path: b, Joined: true, Gain: -1}, {Path: a, Joined: true}}, 0, Options{})
	if len(x) != 3*2*n {
		t.Fatalf("%d samples, want %d", len(x), 3*2*n)
	}
	changed := 0
	for i := range n {
		for c := range 2 {
			for _, at := range []int{i, 2*n + i} {
				if x[2*at+c] != int32(count(i, c)) {
					changed++
				}
			}
		}
	}
	if changed > 0 {
		t.Errorf("%d of %d samples changed", changed, 4*n)
	}
	// 8000 less 1 dB is 8000 x 10^(-1/20) = 7130.01: dithered, more than one value.
	values := map[int32]bool{}
	for _, v := range x[2*n : 4*n] {
		values[v] = true
		if v < 7129 || v > 7131 {
			t.Fatalf("%d, want 7130 within the dither", v)
		}
	}
	if len(values) < 3 {
		t.Errorf("values %v: no dither", values)
	}
}

// Joined tracks are butted to the sample, of one rate or not; of one rate they
// are one stream, so that a sine cut in two is whole again after resampling.
func TestJoined(t *testing.T) {
	dir := t.TempDir()
	tone := func(i int) int16 { return int16(math.Round(12000 * math.Sin(2*math.Pi*997*float64(i)/44100))) }
	a, b, whole := filepath.Join(dir, "a.wav"), filepath.Join(dir, "b.wav"), filepath.Join(dir, "w.wav")
	const cut, all = 33331, 90001
	writeWAV(t, a, 44100, cut, func(i, _ int) int16 { return tone(i) })
	writeWAV(t, b, 44100, all-cut, func(i, _ int) int16 { return tone(i + cut) })
	writeWAV(t, whole, 44100, all, func(i, _ int) int16 { return tone(i) })
	for _, rate := range []int{44100, 48000} {
		o := Options{Rate: rate, Bits: 24}
		l, x, _ := makeIt(t, []Cue{{Path: a, Start: time.Second}, {Path: b, Joined: true}}, 0, o)
		_, y, _ := makeIt(t, []Cue{{Path: whole, Start: time.Second}}, 0, o)
		if len(x) != len(y) || l.Spans[0].To != l.Spans[1].From {
			t.Fatalf("%d Hz: %d and %d samples", rate, len(x), len(y))
		}
		for i := range x {
			if d := x[i] - y[i]; d < -2 || d > 2 { // dither
				t.Fatalf("%d Hz: sample %d differs by %d", rate, i, d)
			}
		}
	}
}

// TestPartsMeet: parts of one file that follow each other and are joined give the
// file back to the sample, at rates at which a frame of 1/75 s is no whole number
// of samples, too.
func TestPartsMeet(t *testing.T) {
	for _, rate := range []int{44100, 48000} {
		dir := t.TempDir()
		path := filepath.Join(dir, "album.wav")
		const n = 200_003
		writeWAV(t, path, rate, n, count)
		whole := samples(t, path)
		var cues []Cue
		ends := []time.Duration{0, 1, 75*time.Second/100 + 1, 1013 * time.Second / 1001, 151 * time.Second / 75, 227*time.Second/75 + 9070, 3200*time.Millisecond + 18141, 10 * time.Second}
		for i := range len(ends) - 1 {
			cues = append(cues, Cue{Path: path, Skip: ends[i], Length: ends[i+1] - ends[i], Joined: i > 0})
		}
		_, got, _ := makeIt(t, cues, 0, Options{Rate: rate})
		if len(got) != len(whole) {
			t.Fatalf("%d Hz: %d numbers of %d", rate, len(got), len(whole))
		}
		for i := range got {
			if got[i] != whole[i] {
				t.Fatalf("%d Hz: number %d is %d, not %d", rate, i, got[i], whole[i])
			}
		}
	}
}

func TestOverlapKeepsPower(t *testing.T) {
	dir := t.TempDir()
	a, b := filepath.Join(dir, "a.wav"), filepath.Join(dir, "b.wav")
	// Two tones that do not belong together: their powers add.
	sine := func(hz float64) func(i, c int) int16 {
		return func(i, _ int) int16 { return int16(10000 * math.Sin(2*math.Pi*hz*float64(i)/44100)) }
	}
	writeWAV(t, a, 44100, 5*44100, sine(440))
	writeWAV(t, b, 44100, 5*44100, sine(617))
	l, x, _ := makeIt(t, []Cue{{Path: a}, {Path: b, Start: 3 * time.Second}}, 0, Options{})
	if l.Frames != 8*44100 {
		t.Fatalf("%d frames, want 8 s", l.Frames)
	}
	for at := 44100; at < 7*44100; at += 4410 {
		var sum float64
		for i := at; i < at+8820; i++ { // 200 ms
			sum += float64(x[2*i]) * float64(x[2*i])
		}
		if db := 10 * math.Log10(sum/8820/(1e8/2)); math.Abs(db) > 0.3 {
			t.Errorf("at %.1f s: %+.2f dB", float64(at)/44100, db)
		}
	}
}

// One file, one fade, one skip, one gain.
func TestShape(t *testing.T) {
	dir := t.TempDir()
	a := filepath.Join(dir, "a.wav")
	writeWAV(t, a, 44100, 44100, steady)
	_, x, _ := makeIt(t, []Cue{{Path: a, Start: time.Second, Skip: 100 * time.Millisecond, Length: 500 * time.Millisecond, Gain: -6.0206, Fade: 200 * time.Millisecond}}, 2*time.Second, Options{})
	for _, c := range []struct {
		at         float64 // s
		want, give int32
	}{
		{0.999, 0, 0}, {1.001, 4000, 2}, {1.299, 4000, 2}, {1.4, 2000, 30}, {1.4995, 0, 4}, {1.501, 0, 0},
	} {
		if v := x[2*int(c.at*44100)]; v < c.want-c.give || v > c.want+c.give {
			t.Errorf("at %v s: %d, want %d", c.at, v, c.want)
		}
	}
}

// A silent cue is silence and a marker; the markers stand where sox and
// ffprobe find them.
func TestMarkersAndReaders(t *testing.T) {
	dir := t.TempDir()
	a := filepath.Join(dir, "a.wav")
	writeWAV(t, a, 44100, 44100, steady)
	_, x, path := makeIt(t, []Cue{
		{Title: "Fährlicht", Path: a, Start: time.Second},
		{Title: "from the record", Start: 3 * time.Second, Length: 2 * time.Second},
	}, 6*time.Second, Options{})
	for i := 3 * 44100; i < 6*44100; i++ {
		if x[2*i] != 0 {
			t.Fatalf("not silent at frame %d", i)
		}
	}
	b, _ := os.ReadFile(path)
	at := bytes.Index(b, []byte("cue "))
	if at < 0 || binary.LittleEndian.Uint32(b[at+8:]) != 2 {
		t.Fatal("no two cue points")
	}
	for i, want := range []uint32{44100, 3 * 44100} {
		p := b[at+12+24*i:]
		if binary.LittleEndian.Uint32(p[20:]) != want || string(p[8:12]) != "data" {
			t.Errorf("cue point %d at %d, want %d", i+1, binary.LittleEndian.Uint32(p[20:]), want)
		}
	}
	if int(binary.LittleEndian.Uint32(b[4:])) != len(b)-8 {
		t.Error("the RIFF size is not the file's")
	}
	soxi := strings.TrimSpace(run(t, "soxi", "-s", path))
	if soxi != strconv.Itoa(6*44100) {
		t.Errorf("soxi counts %s samples", soxi)
	}
	if w := run(t, "sox", path, "-n", "stat"); w == "" {
		t.Log("sox reads it to its end")
	}
	var probe struct {
		Streams []struct {
			CodecName  string `json:"codec_name"`
			SampleRate string `json:"sample_rate"`
			DurationTS int    `json:"duration_ts"`
		}
		Format struct{ Tags map[string]string }
	}
	if err := json.Unmarshal([]byte(run(t, "ffprobe", "-v", "error", "-show_streams", "-show_format", "-of", "json", path)), &probe); err != nil {
		t.Fatal(err)
	}
	s := probe.Streams[0]
	if s.CodecName != "pcm_s16le" || s.SampleRate != "44100" || s.DurationTS != 6*44100 {
		t.Errorf("ffprobe: %+v", s)
	}
	if probe.Format.Tags["title"] != "The Crossing, side A" || probe.Format.Tags["comment"] != "Turn the monitor down." {
		t.Errorf("ffprobe reads the tags %v", probe.Format.Tags)
	}
}

func run(t testing.TB, name string, args ...string) string {
	t.Helper()
	out, err := exec.Command(reftool.Need(t, name), args...).Output()
	if err != nil {
		t.Fatalf("%s %q: %v", name, args, err)
	}
	return string(out)
}

// Beyond 4 GB the file is RF64. Its silence is sparse: the test takes no room.
func TestRF64(t *testing.T) {
	path := filepath.Join(t.TempDir(), "long.wav")
	l, err := Lay(context.Background(), []Cue{{Title: "tone", Start: 8 * time.Hour, Length: time.Second, Tone: &Tone{Hz: 400, Level: -12, Left: true, Right: true}}}, 0, Options{})
	if err != nil {
		t.Fatal(err)
	}
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if _, err := l.Write(context.Background(), f, Text{}, Options{}); err != nil {
		t.Skipf("no sparse files here: %v", err)
	}
	info, err := decode.Look(path)
	if err != nil || info.Samples != l.Frames || info.Samples != (8*3600+1)*44100 {
		t.Errorf("our own scanner reads %d samples (%v), want %d", info.Samples, err, l.Frames)
	}
	if got := strings.TrimSpace(run(t, "ffprobe", "-v", "error", "-show_entries", "stream=duration_ts", "-of", "csv=p=0", path)); got != fmt.Sprint(l.Frames) {
		t.Errorf("ffprobe reads %s samples, want %d", got, l.Frames)
	}
}

// The same cues give the same bytes on any number of cores.
func TestSameBytes(t *testing.T) {
	dir := t.TempDir()
	var cues []Cue
	for i := range 6 {
		p := filepath.Join(dir, fmt.Sprint(i, ".wav"))
		writeWAV(t, p, []int{44100, 48000, 32000}[i%3], 40000, count)
		cues = append(cues, Cue{Title: fmt.Sprint(i), Path: p, Start: time.Duration(i) * 2 * time.Second, Gain: -float64(i)})
	}
	_, _, one := makeIt(t, cues, 0, Options{Workers: 1})
	_, _, four := makeIt(t, cues, 0, Options{Workers: 4})
	a, _ := os.ReadFile(one)
	b, _ := os.ReadFile(four)
	if !bytes.Equal(a, b) {
		t.Error("one worker and four write different files")
	}
}

// Dither takes the distortion out of what 16 bits cannot hold: a sine half a
// step high is silence without it, and there is no bias with it.
func TestDither(t *testing.T) {
	q := newQuantizer(16, 1)
	x := make([]float64, 1<<16)
	for i := range x {
		x[i] = 0.4 / 32768
	}
	b := make([]byte, 2*len(x))
	q.convert(b, x, false)
	var sum, square float64
	for i := range x {
		v := float64(int16(binary.LittleEndian.Uint16(b[2*i:])))
		sum += v
		square += (v - 0.4) * (v - 0.4)
	}
	n := float64(len(x))
	// Triangular dither with rounding: error power 1/4 step squared, whatever the signal.
	if m := sum / n; math.Abs(m-0.4) > 0.01 {
		t.Errorf("mean %.4f, want 0.4", m)
	}
	if p := square / n; math.Abs(p-0.25) > 0.01 {
		t.Errorf("error power %.4f, want 0.25", p)
	}
	q.convert(b, x, true)
	if int16(binary.LittleEndian.Uint16(b)) != 0 {
		t.Error("what is exact must not be dithered")
	}
}

func TestRefused(t *testing.T) {
	dir := t.TempDir()
	a := filepath.Join(dir, "a.wav")
	writeWAV(t, a, 44100, 44100, steady)
	for name, cues := range map[string][]Cue{
		"nothing":              nil,
		"silence of no length": {{Title: "x"}},
		"missing file":         {{Path: filepath.Join(dir, "none.flac")}},
		"negative start":       {{Path: a, Start: -1}},
		"gain beyond reason":   {{Path: a, Gain: 100}},
		"gain that is none":    {{Path: a, Gain: math.NaN()}},
		"overlap of too much":  {{Path: a, Start: time.Second}, {Path: a, Start: 500 * time.Millisecond}},
		"tone above all":       {{Length: time.Second, Tone: &Tone{Hz: 30000, Left: true}}},
		"tone over full scale": {{Length: time.Second, Tone: &Tone{Hz: 400, Level: 1, Left: true}}},
		"tone in no channel":   {{Length: time.Second, Tone: &Tone{Hz: 400}}},
		"longer than any tape": {{Path: a, Start: 2000 * time.Hour}},
	} {
		if _, err := Lay(context.Background(), cues, 0, Options{}); err == nil || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := Lay(context.Background(), []Cue{{Path: a}}, 0, Options{Rate: 22050}); err == nil {
		t.Error("a rate that is not offered")
	}
}

func TestStopped(t *testing.T) {
	dir := t.TempDir()
	a := filepath.Join(dir, "a.wav")
	writeWAV(t, a, 44100, 20*44100, steady)
	l, err := Lay(context.Background(), []Cue{{Path: a}}, 0, Options{})
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	f, _ := os.Create(filepath.Join(dir, "out.wav"))
	defer f.Close()
	var most int64
	_, err = l.Write(ctx, f, Text{}, Options{Progress: func(done, total int64) {
		most = done
		stop()
	}})
	if err == nil || most > 3*block {
		t.Errorf("stopped after the first block, but %d frames were made: %v", most, err)
	}
}

func BenchmarkWrite(b *testing.B) {
	dir := b.TempDir()
	for _, rate := range []int{44100, 48000} {
		p := filepath.Join(dir, fmt.Sprint(rate, ".wav"))
		writeWAV(b, p, rate, 20*rate, count)
		b.Run(fmt.Sprint(rate, " to 44100"), func(b *testing.B) {
			for b.Loop() {
				l, err := Lay(context.Background(), []Cue{{Path: p, Gain: -1}}, 0, Options{})
				if err != nil {
					b.Fatal(err)
				}
				f, _ := os.Create(filepath.Join(dir, "out.wav"))
				if _, err := l.Write(context.Background(), f, Text{}, Options{}); err != nil {
					b.Fatal(err)
				}
				f.Close()
			}
			b.ReportMetric(20*float64(b.N)/b.Elapsed().Seconds(), "x-real-time")
		})
	}
}

// Full-scale 16-bit sources lose nothing where they overlap, or are made 24 bits:
// the dither alone touches the rail, and that is no clipping. What is over full
// scale is told.
func TestDitherIsNoClipping(t *testing.T) {
	dir := t.TempDir()
	full, quiet := filepath.Join(dir, "full.wav"), filepath.Join(dir, "quiet.wav")
	writeWAV(t, full, 44100, 3*44100, func(i, _ int) int16 { return []int16{32767, -32768}[i/50%2] })
	writeWAV(t, quiet, 44100, 3*44100, func(int, int) int16 { return 0 })
	for _, c := range []struct {
		name  string
		cues  []Cue
		clips bool
	}{
		{"beside silence", []Cue{{Path: full}, {Path: quiet, Start: 2 * time.Second}}, false},
		{"with a hair of gain", []Cue{{Path: full, Gain: 1e-7}}, false},
		{"a decibel over", []Cue{{Path: full, Gain: 1}}, true},
		{"two at once", []Cue{{Path: full}, {Path: full, Start: 2 * time.Second}}, true},
	} {
		l, err := Lay(context.Background(), c.cues, 0, Options{})
		if err != nil {
			t.Fatal(err)
		}
		f, err := os.Create(filepath.Join(dir, "out.wav"))
		if err != nil {
			t.Fatal(err)
		}
		notes, err := l.Write(context.Background(), f, Text{}, Options{})
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		if clips := strings.Contains(strings.Join(notes, " "), "clipped"); clips != c.clips {
			t.Errorf("%s: %q", c.name, notes)
		}
	}
}

// TestSheet: the cue sheet of a side, checked by importing it into a FLAC of the
// same sound (metaflac) and cutting that at its indexes (flac --cue): each part
// begins no later than the track, and less than a frame of 1/75 s before it.
func TestSheet(t *testing.T) {
	flac, metaflac := reftool.Need(t, "flac"), reftool.Need(t, "metaflac")
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	writeWAV(t, at("a.wav"), 44100, 3*44100+17, steady)
	writeWAV(t, at("b.wav"), 44100, 2*44100+5, steady)
	cues := []Cue{
		{Title: "Fog", Performer: "Pilot", Path: at("a.wav"), Start: 1234 * time.Millisecond},
		{Title: "Bell", Path: at("b.wav"), Joined: true},
		{Title: "a \"record\"", Start: 8 * time.Second, Length: time.Second},
		{Start: 10 * time.Second, Length: time.Second},
		{Title: "Gong", Path: at("b.wav"), Start: 11 * time.Second},
	}
	l, _, path := makeIt(t, cues, 0, Options{})
	text := l.Sheet("Night Ferry, side A", "side.wav").Encode()
	for _, line := range []string{
		"TITLE \"Night Ferry, side A\"\r\nFILE \"side.wav\" WAVE\r\n",
		"TRACK 01 AUDIO\r\n    TITLE \"Fog\"\r\n    PERFORMER \"Pilot\"\r\n    INDEX 00 00:00:00\r\n    INDEX 01 00:01:17\r\n",
		"TRACK 02 AUDIO\r\n    TITLE \"Bell\"\r\n    INDEX 01 00:04:17\r\n",
		"TRACK 03 AUDIO\r\n    TITLE \"a 'record'\"\r\n    INDEX 00 00:06:18\r\n    INDEX 01 00:08:00\r\n",
		"TRACK 04 AUDIO\r\n    TITLE \"Gong\"\r\n    INDEX 01 00:11:00\r\n",
	} {
		if !strings.Contains(string(text), line) {
			t.Errorf("no %q in\n%s", line, text)
		}
	}
	if err := os.WriteFile(at("side.cue"), text, 0o666); err != nil {
		t.Fatal(err)
	}
	run(t, flac, "-s", "-o", at("side.flac"), path)
	run(t, metaflac, "--import-cuesheet-from="+at("side.cue"), at("side.flac"))
	whole := samples(t, path)
	named := []int{0, 1, 2, 4} // the cues with a title
	for i, n := range named {
		end := fmt.Sprintf("%d.1", i+2)
		if i == len(named)-1 {
			end = ""
		}
		part := at(fmt.Sprintf("part%d.wav", i))
		run(t, flac, "-s", "-d", "-o", part, fmt.Sprintf("--cue=%d.1-%s", i+1, end), at("side.flac"))
		got := samples(t, part)
		from := l.Spans[n].From
		found := false
		for begins := max(0, from-588); begins <= from && !found; begins++ {
			found = begins%588 == 0 && int(2*begins)+len(got) <= len(whole) && slices.Equal(got, whole[2*begins:int(2*begins)+len(got)])
		}
		if !found {
			t.Errorf("track %d, of %d samples, does not begin within a frame before sample %d", i+1, len(got)/2, from)
		}
	}
}
