package main

import (
	_ "embed"
	"encoding/csv"
	"fmt"
	"strconv"
	"strings"
)

//go:embed tracks.csv
var tracksCSV string

// track is one row of tracks.csv.
//
// Plays differs from Samples where a constant-rate MP3 has frames too small
// for the tag that states the encoder's delay and padding: then every sample
// of every frame is heard. It is worked out from the file's size, not read
// from a header: (bytes without ID3) / (72 x bit rate / rate) x 576.
type track struct {
	File     string
	Format   string // "mp3 cbr KBIT", "mp3 vbr QUALITY", "flac BITS", "wav BITS"
	Rate     int    // Hz
	Channels int
	Samples  int    // a channel, as synthesised
	Plays    int    // a channel, as a listener gets it; see below
	Tags     string // which tags an MP3 carries
	Title    string
	Artist   string
	Number   int
	Year     int
	Genre    string

	Sound      string    // the instrument: pads, bells, waltz, pulse, buoy
	Root       float64   // Hz, the keynote
	Beat       float64   // seconds
	Peak       float64   // dBFS, the loudest sample
	Head, Tail float64   // seconds of digital silence at the edges
	Shape      []float64 // dB, the loudness at even steps through the piece
}

// programme reads the rows.
func programme() ([]track, error) {
	rows, err := csv.NewReader(strings.NewReader(tracksCSV)).ReadAll()
	if err != nil {
		return nil, err
	}
	var out []track
	for i, r := range rows[1:] {
		var bad error
		num := func(s string) float64 {
			v, err := strconv.ParseFloat(s, 64)
			if err != nil && bad == nil {
				bad = fmt.Errorf("tracks.csv line %d: %q is no number", i+2, s)
			}
			return v
		}
		t := track{
			File: r[0], Format: r[1], Rate: int(num(r[2])), Channels: int(num(r[3])), Samples: int(num(r[4])), Plays: int(num(r[5])),
			Tags: r[6], Title: r[7], Artist: r[8], Number: int(num(r[9])), Year: int(num(r[10])), Genre: r[11],
			Sound: r[12], Root: num(r[13]), Beat: num(r[14]), Peak: num(r[15]), Head: num(r[16]), Tail: num(r[17]),
		}
		for _, s := range strings.Fields(r[18]) {
			t.Shape = append(t.Shape, num(s))
		}
		if bad != nil {
			return nil, bad
		}
		out = append(out, t)
	}
	return out, nil
}
