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
type track struct {
	File     string
	Format   string // "mp3 cbr KBIT", "mp3 vbr QUALITY", "flac BITS", "wav BITS"
	Rate     int    // Hz
	Channels int
	Samples  int    // a channel: the exact length
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
			File: r[0], Format: r[1], Rate: int(num(r[2])), Channels: int(num(r[3])), Samples: int(num(r[4])),
			Tags: r[5], Title: r[6], Artist: r[7], Number: int(num(r[8])), Year: int(num(r[9])), Genre: r[10],
			Sound: r[11], Root: num(r[12]), Beat: num(r[13]), Peak: num(r[14]), Head: num(r[15]), Tail: num(r[16]),
		}
		for _, s := range strings.Fields(r[17]) {
			t.Shape = append(t.Shape, num(s))
		}
		if bad != nil {
			return nil, bad
		}
		out = append(out, t)
	}
	return out, nil
}
