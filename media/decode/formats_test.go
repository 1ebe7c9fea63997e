package decode

import (
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// Every format against what it was made from and against ffmpeg's decoder.
func TestAgainstFFmpeg(t *testing.T) {
	dir := t.TempDir()
	in := func(name string) string { return filepath.Join(dir, name) }
	// The sounds to encode, 3.3 s each: no whole number of any codec's frames.
	for _, s := range []struct {
		name                 string
		rate, channels, bits int
	}{
		{"44.wav", 44100, 2, 16}, {"48.wav", 48000, 2, 16}, {"mono.wav", 44100, 1, 16}, {"32.wav", 32000, 2, 16},
		{"22.wav", 22050, 2, 16}, {"24.wav", 24000, 2, 16}, {"16.wav", 16000, 1, 16}, {"96.wav", 96000, 2, 24}, {"hi.wav", 44100, 2, 24}, {"51.wav", 48000, 6, 16}, {"11.wav", 11025, 1, 16},
	} {
		writeWAV(t, in(s.name), s.rate, s.channels, s.bits, music(s.rate, s.channels, 3.3))
	}
	ff := func(t *testing.T, from, to string, args ...string) {
		t.Helper()
		tool(t, "ffmpeg", append(append([]string{"-v", "error", "-y", "-i", in(from)}, args...), in(to))...)
	}

	exact := math.Inf(-1)
	cases := []struct {
		name, from string
		make       func(t *testing.T, from, to string)
		by         string
		rms, most  float64 // dBFS, the greatest error allowed against ffmpeg
	}{
		// WAV and AIFF, all exact.
		{"u8.wav", "44.wav", func(t *testing.T, f, o string) { ff(t, f, o, "-c:a", "pcm_u8") }, "pcm", exact, exact},
		{"s16.wav", "44.wav", func(t *testing.T, f, o string) { ff(t, f, o, "-c:a", "pcm_s16le") }, "pcm", exact, exact},
		{"s24.wav", "hi.wav", func(t *testing.T, f, o string) { ff(t, f, o, "-c:a", "pcm_s24le") }, "pcm", exact, exact},
		{"s32.wav", "hi.wav", func(t *testing.T, f, o string) { ff(t, f, o, "-c:a", "pcm_s32le") }, "pcm", exact, exact},
		{"f32.wav", "hi.wav", func(t *testing.T, f, o string) { ff(t, f, o, "-c:a", "pcm_f32le") }, "pcm", exact, exact},
		{"f64.wav", "hi.wav", func(t *testing.T, f, o string) { ff(t, f, o, "-c:a", "pcm_f64le") }, "pcm", exact, exact},
		{"alaw.wav", "44.wav", func(t *testing.T, f, o string) { ff(t, f, o, "-c:a", "pcm_alaw") }, "pcm", exact, exact},
		{"mulaw.wav", "44.wav", func(t *testing.T, f, o string) { ff(t, f, o, "-c:a", "pcm_mulaw") }, "pcm", exact, exact},
		{"six.wav", "51.wav", func(t *testing.T, f, o string) { ff(t, f, o, "-c:a", "pcm_s16le") }, "pcm", exact, exact},
		{"mono16.wav", "mono.wav", func(t *testing.T, f, o string) { ff(t, f, o) }, "pcm", exact, exact},
		{"rf64.wav", "44.wav", func(t *testing.T, f, o string) { ff(t, f, o, "-rf64", "always") }, "pcm", exact, exact},
		{"s8.aiff", "44.wav", func(t *testing.T, f, o string) { ff(t, f, o, "-c:a", "pcm_s8") }, "pcm", exact, exact},
		{"s16.aiff", "44.wav", func(t *testing.T, f, o string) { ff(t, f, o, "-c:a", "pcm_s16be") }, "pcm", exact, exact},
		{"s24.aiff", "hi.wav", func(t *testing.T, f, o string) { ff(t, f, o, "-c:a", "pcm_s24be") }, "pcm", exact, exact},
		{"s32.aiff", "hi.wav", func(t *testing.T, f, o string) { ff(t, f, o, "-c:a", "pcm_s32be") }, "pcm", exact, exact},
		{"f32.aifc", "hi.wav", func(t *testing.T, f, o string) { ff(t, f, o, "-c:a", "pcm_f32be", "-f", "aiff") }, "pcm", exact, exact},
		{"f64.aifc", "hi.wav", func(t *testing.T, f, o string) { ff(t, f, o, "-c:a", "pcm_f64be", "-f", "aiff") }, "pcm", exact, exact},
		{"sowt.aifc", "44.wav", func(t *testing.T, f, o string) { ff(t, f, o, "-c:a", "pcm_s16le", "-f", "aiff") }, "pcm", exact, exact},
		{"mulaw.aifc", "44.wav", func(t *testing.T, f, o string) { ff(t, f, o, "-c:a", "pcm_mulaw", "-f", "aiff") }, "pcm", exact, exact},
		// FLAC, all exact.
		{"16.w64", "44.wav", func(t *testing.T, f, o string) { ff(t, f, o) }, "pcm", exact, exact},
		{"24.w64", "96.wav", func(t *testing.T, f, o string) { ff(t, f, o, "-c:a", "pcm_s24le") }, "pcm", exact, exact},
		{"cd.flac", "44.wav", func(t *testing.T, f, o string) { tool(t, "flac", "-s", "-f", "-8", "-o", in(o), in(f)) }, "flac", exact, exact},
		{"fast.flac", "48.wav", func(t *testing.T, f, o string) { tool(t, "flac", "-s", "-f", "-0", "-o", in(o), in(f)) }, "flac", exact, exact},
		{"24.flac", "96.wav", func(t *testing.T, f, o string) { tool(t, "flac", "-s", "-f", "-5", "-o", in(o), in(f)) }, "flac", exact, exact},
		{"mono.flac", "mono.wav", func(t *testing.T, f, o string) { tool(t, "flac", "-s", "-f", "-o", in(o), in(f)) }, "flac", exact, exact},
		{"six.flac", "51.wav", func(t *testing.T, f, o string) { ff(t, f, o) }, "flac", exact, exact},
		// MP3: 16-bit output against floats. Where ffmpeg's own decoder is far off (24 kHz), lame is
		// the reference: see TestMP3AgainstLame.
		{"cbr.mp3", "44.wav", func(t *testing.T, f, o string) { tool(t, "lame", "--quiet", "-m", "s", "-b", "128", in(f), in(o)) }, "mp3", -90, -67},
		{"320.mp3", "48.wav", func(t *testing.T, f, o string) { tool(t, "lame", "--quiet", "-m", "s", "-b", "320", in(f), in(o)) }, "mp3", -90, -67},
		{"v0.mp3", "44.wav", func(t *testing.T, f, o string) { tool(t, "lame", "--quiet", "-m", "s", "-V", "0", in(f), in(o)) }, "mp3", -90, -67},
		{"v5.mp3", "32.wav", func(t *testing.T, f, o string) { tool(t, "lame", "--quiet", "-m", "s", "-V", "5", in(f), in(o)) }, "mp3", -90, -67},
		{"joint.mp3", "44.wav", func(t *testing.T, f, o string) { tool(t, "lame", "--quiet", "-m", "j", "-b", "192", in(f), in(o)) }, "ffmpeg", exact, exact},
		{"mono.mp3", "mono.wav", func(t *testing.T, f, o string) { tool(t, "lame", "--quiet", "-b", "96", in(f), in(o)) }, "mp3", -90, -67},
		{"notag.mp3", "44.wav", func(t *testing.T, f, o string) {
			tool(t, "lame", "--quiet", "-m", "s", "-t", "-b", "128", in(f), in(o))
		}, "mp3", -90, -67},
		// What the guards send to ffmpeg is ffmpeg's own sound.
		{"mpeg25.mp3", "11.wav", func(t *testing.T, f, o string) { tool(t, "lame", "--quiet", "-b", "32", in(f), in(o)) }, "ffmpeg", exact, exact},
		{"free.mp2", "44.wav", func(t *testing.T, f, o string) { ff(t, f, o, "-c:a", "mp2", "-b:a", "192k") }, "ffmpeg", exact, exact},
		{"aac.m4a", "44.wav", func(t *testing.T, f, o string) { ff(t, f, o, "-c:a", "aac", "-b:a", "128k") }, "ffmpeg", exact, exact},
		{"alac.m4a", "44.wav", func(t *testing.T, f, o string) { ff(t, f, o, "-c:a", "alac") }, "ffmpeg", exact, exact},
		{"raw.aac", "44.wav", func(t *testing.T, f, o string) { ff(t, f, o, "-c:a", "aac", "-b:a", "128k") }, "ffmpeg", exact, exact},
		{"adpcm.wav", "44.wav", func(t *testing.T, f, o string) { ff(t, f, o, "-c:a", "adpcm_ima_wav") }, "ffmpeg", exact, exact},
		// Vorbis: floats against floats. For Opus see TestOpusAgainstLibopus.
		{"q5.ogg", "44.wav", func(t *testing.T, f, o string) { tool(t, "oggenc", "-Q", "-q", "5", "-o", in(o), in(f)) }, "vorbis", -120, -100},
		{"q0mono.ogg", "mono.wav", func(t *testing.T, f, o string) { tool(t, "oggenc", "-Q", "-q", "0", "-o", in(o), in(f)) }, "vorbis", -120, -100},
		{"six.ogg", "51.wav", func(t *testing.T, f, o string) { tool(t, "oggenc", "-Q", "-q", "3", "-o", in(o), in(f)) }, "ffmpeg", exact, exact},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			c.make(t, c.from, c.name)
			s, got := decodeAll(t, in(c.name))
			want := byFFmpeg(t, in(c.name))
			if s.By != c.by {
				t.Errorf("decoded by %s, want %s", s.By, c.by)
			}
			if notes := s.Notes(); len(notes) > 0 {
				t.Errorf("a whole file, but: %q", notes)
			}
			if n := int64(len(got) / s.Channels); n != s.Info.Samples {
				t.Errorf("%d frames given, the container says %d", n, s.Info.Samples)
			}
			// ffmpeg leaves encoder padding on some formats; never less than the sound.
			if d := len(want)/s.Channels - len(got)/s.Channels; d < -1152 || d > 4096 {
				t.Errorf("ffmpeg gives %d frames more", d)
			}
			rms, most := errorOf(got, want)
			if rms > c.rms || most > c.most {
				t.Errorf("error against ffmpeg: RMS %.1f dBFS, at most %.1f; want %.0f and %.0f", rms, most, c.rms, c.most)
			}
			t.Logf("RMS %.1f dBFS, at most %.1f", rms, most)
			if c.by == "flac" { // and against the format's own decoder
				tool(t, "flac", "-s", "-d", "-f", "-o", in(c.name+".wav"), in(c.name))
				if want := byFFmpeg(t, in(c.name+".wav")); !slices.Equal(got, want) {
					t.Error("not what flac -d gives")
				}
			}
		})
	}
}

// Opus is compared with libopus, which wrote the standard's reference decoder:
// ffmpeg's own is itself far from it in speech modes.
func TestOpusAgainstLibopus(t *testing.T) {
	dir := t.TempDir()
	in := func(name string) string { return filepath.Join(dir, name) }
	writeWAV(t, in("48.wav"), 48000, 2, 16, music(48000, 2, 3.3))
	writeWAV(t, in("mono.wav"), 44100, 1, 16, music(44100, 1, 3.3))
	writeWAV(t, in("16.wav"), 16000, 1, 16, music(16000, 1, 3.3))
	cases := []struct {
		name, from string
		args       []string
		rms        float64 // dBFS
	}{
		{"music.opus", "48.wav", []string{"--bitrate", "128"}, -100},
		{"low.opus", "48.wav", []string{"--bitrate", "48"}, -60},
		{"mono.opus", "mono.wav", []string{"--bitrate", "64"}, -100},
		{"short.opus", "48.wav", []string{"--bitrate", "96", "--framesize", "2.5"}, -100},
		{"long.opus", "48.wav", []string{"--bitrate", "96", "--framesize", "60"}, -60},
		{"speech.opus", "16.wav", []string{"--speech", "--bitrate", "16"}, -60},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			tool(t, "opusenc", append(append([]string{"--quiet"}, c.args...), in(c.from), in(c.name))...)
			raw := in(c.name + ".wav")
			tool(t, "opusdec", "--quiet", "--float", "--rate", "48000", in(c.name), raw)
			want := byFFmpeg(t, raw)
			s, got := decodeAll(t, in(c.name))
			if len(got) != len(want) || int64(len(got)/s.Channels) != s.Info.Samples {
				t.Errorf("%d samples, libopus gives %d, the container says %d", len(got), len(want), s.Info.Samples*int64(s.Channels))
			}
			rms, most := errorOf(got, want)
			t.Logf("RMS %.1f dBFS, at most %.1f", rms, most)
			if s.By != "opus" || rms > c.rms || len(s.Notes()) > 0 {
				t.Errorf("by %s, RMS %.1f dBFS, want %.0f; notes %q", s.By, rms, c.rms, s.Notes())
			}
		})
	}
}

// At the rates of MPEG-2 lame's decoder is the reference: that of ffmpeg 5.1 is
// itself 60 dB off at 24 kHz.
func TestMPEG2AgainstLame(t *testing.T) {
	dir := t.TempDir()
	in := func(name string) string { return filepath.Join(dir, name) }
	for _, rate := range []int{16000, 22050, 24000} {
		writeWAV(t, in(strconv.Itoa(rate)), rate, 2, 16, music(rate, 2, 3.3))
	}
	cases := []struct {
		rate          int
		bitrate, mode string
		by            string
	}{
		{22050, "56", "s", "mp3"}, {22050, "64", "s", "mp3"}, {22050, "128", "s", "mp3"}, {16000, "64", "s", "mp3"},
		{24000, "64", "s", "mp3"}, {22050, "64", "m", "mp3"},
		// 144 x 80000 / 22050 = 522 is even, and 576 x 80000 / 8 / 22050 = 261.2 needs padding: guarded.
		{22050, "80", "s", "ffmpeg"},
		// M/S with short blocks.
		{22050, "64", "j", "ffmpeg"},
	}
	for _, c := range cases {
		t.Run(fmt.Sprint(c.rate, " ", c.bitrate, c.mode), func(t *testing.T) {
			file := in("x.mp3")
			tool(t, "lame", "--quiet", "-b", c.bitrate, "-m", c.mode, "--resample", strconv.Itoa(c.rate), in(strconv.Itoa(c.rate)), file)
			tool(t, "lame", "--quiet", "--decode", file, in("x.wav"))
			want := byFFmpeg(t, in("x.wav"))
			s, got := decodeAll(t, file)
			rms, most := errorOf(got, want)
			t.Logf("by %s: RMS %.1f dBFS, at most %.1f", s.By, rms, most)
			if s.By != c.by {
				t.Errorf("decoded by %s, want %s", s.By, c.by)
			}
			if s.By == "mp3" && (rms > -90 || most > -67) {
				t.Errorf("error against lame: RMS %.1f dBFS, at most %.1f", rms, most)
			}
			if d := len(got) - len(want); d < -4 || d > 4 {
				t.Errorf("%d samples more than lame gives", d)
			}
		})
	}
}

// Without ffmpeg a joint stereo file with sharp attacks is decoded all the
// same, with a caveat; what is wrong of it is little, and does not move its loudness.
func TestShortJointWithoutFFmpeg(t *testing.T) {
	dir := t.TempDir()
	wav, file := filepath.Join(dir, "a.wav"), filepath.Join(dir, "a.mp3")
	writeWAV(t, wav, 44100, 2, 16, music(44100, 2, 3.3))
	tool(t, "lame", "--quiet", "-m", "j", "-b", "128", wav, file)
	want := byFFmpeg(t, file)
	t.Setenv("PATH", "")
	s, got := decodeAll(t, file)
	rms, most := errorOf(got, want)
	t.Logf("RMS %.1f dBFS, at most %.1f", rms, most)
	if s.By != "mp3" || len(s.Notes()) != 0 || !strings.Contains(s.Caveat(), "ffmpeg") || rms > -50 {
		t.Errorf("by %s, RMS %.1f dBFS, notes %q, caveat %q", s.By, rms, s.Notes(), s.Caveat())
	}
}
