// Makeferry makes testdata/night-ferry again: an invented mixtape whose every
// sound is synthesised here and encoded by lame and flac.
//
//	go run ./testdata/makeferry testdata/night-ferry
//
// tracks.csv beside this file is the whole programme: names, tags, sample
// counts and how each piece sounds. Tests read the same file, so that what
// the reader finds is compared with what was put in. The same lame and flac
// give the same bytes; other versions give the same lengths.
package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
)

// Album is the album tag of every track.
const Album = "Night Ferry"

func main() {
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "makeferry:", err)
		os.Exit(1)
	}
}

func run(args []string) error {
	if len(args) != 1 {
		return fmt.Errorf("say where the files go: go run ./testdata/makeferry testdata/night-ferry")
	}
	for _, p := range []string{"lame", "flac"} {
		if _, err := exec.LookPath(p); err != nil {
			return fmt.Errorf("%s is not on PATH: install it (Debian package %s) and run again", p, p)
		}
	}
	tracks, err := programme()
	if err != nil {
		return err
	}
	if err := os.MkdirAll(args[0], 0o755); err != nil {
		return err
	}
	tmp, err := os.MkdirTemp("", "makeferry")
	if err != nil {
		return err
	}
	defer os.RemoveAll(tmp)
	for _, t := range tracks {
		data, err := encode(t, len(tracks), filepath.Join(tmp, "sound"))
		if err != nil {
			return fmt.Errorf("%q: %w", t.File, err)
		}
		if err := os.WriteFile(filepath.Join(args[0], t.File), data, 0o644); err != nil {
			return err
		}
		fmt.Printf("%7d bytes  %s\n", len(data), t.File)
	}
	return nil
}

// encode gives the finished file of one track, tags and all. Names with tmp
// as their start are used for the encoders' input and output.
func encode(t track, total int, tmp string) ([]byte, error) {
	kind, setting, _ := strings.Cut(t.Format, " ")
	bits := 16
	if kind == "wav" {
		bits = 8
	}
	in, out := tmp+".wav", tmp+".out"
	wav := riff(t, quantise(synthesise(t), bits, kind == "flac"), bits, total)
	if kind == "wav" {
		return wav, nil
	}
	if err := os.WriteFile(in, wav, 0o600); err != nil {
		return nil, err
	}
	var cmd *exec.Cmd
	switch kind {
	case "mp3":
		mode, rate, _ := strings.Cut(setting, " ")
		flag := "-b" // constant bit rate, kbit/s
		if mode == "vbr" {
			flag = "-V" // variable bit rate, quality
		}
		shape := "m"
		if t.Channels == 2 {
			shape = "j"
		}
		// The rate is kept as it is: left alone, lame would move the lowest
		// bit rates to MPEG-2.5.
		cmd = exec.Command("lame", "--silent", flag, rate, "-m", shape,
			"--resample", fmt.Sprintf("%g", float64(t.Rate)/1000), in, out)
	case "flac":
		args := []string{"--silent", "--force", "--best", "--no-padding", "--no-seektable", "--no-utf8-convert", "-o", out}
		for _, kv := range comments(t, total) {
			args = append(args, "--tag="+kv)
		}
		cmd = exec.Command("flac", append(args, in)...)
	default:
		return nil, fmt.Errorf("format %q is unknown", t.Format)
	}
	if msg, err := cmd.CombinedOutput(); err != nil {
		return nil, fmt.Errorf("%s: %w: %s", cmd.Path, err, msg)
	}
	data, err := os.ReadFile(out)
	if err != nil || kind == "flac" {
		return data, err
	}
	return tagMP3(t, total, data), nil
}
