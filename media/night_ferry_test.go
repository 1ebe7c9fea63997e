package media_test

import (
	"context"
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"longside/media"
)

// TestNightFerry compares the demo folder with the list that it was made from:
// each length to the sample, and every tag. The lengths come from the maker
// and the encoders' frame arithmetic (see testdata/makeferry), not from a reader.
func TestNightFerry(t *testing.T) {
	f, err := os.Open("../testdata/makeferry/tracks.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	rows = rows[1:]
	tracks, faults, err := media.Read(context.Background(), []string{"../testdata/night-ferry"}, media.Options{})
	if err != nil || len(faults) > 0 {
		t.Fatal(err, faults)
	}
	if len(tracks) != len(rows) {
		t.Fatalf("%d tracks, want %d", len(tracks), len(rows))
	}
	for i, row := range rows {
		got := tracks[i]
		text := func(name string) string { return row[column[name]] }
		number := func(name string) int {
			n, err := strconv.Atoi(text(name))
			if err != nil {
				t.Fatal(err)
			}
			return n
		}
		t.Run(text("file"), func(t *testing.T) {
			for _, c := range []struct {
				what      string
				got, want any
			}{
				{"file", filepath.Base(got.Path), text("file")},
				{"samples", got.Samples, int64(number("plays"))},
				{"rate", got.SampleRate, number("rate")},
				{"channels", got.Channels, number("channels")},
				{"title", got.Title, text("title")},
				{"artist", got.Artist, text("artist")},
				{"album", got.Album, "Night Ferry"},
				{"genre", got.Genre, text("genre")},
				{"number", got.Number, number("number")},
				{"year", got.Year, number("year")},
				{"notes", len(got.Notes), 0},
			} {
				if c.got != c.want {
					t.Errorf("%s is %v, want %v", c.what, c.got, c.want)
				}
			}
			want := time.Duration(float64(number("plays")) / float64(number("rate")) * float64(time.Second))
			if d := got.Length - want; d < -time.Microsecond || d > time.Microsecond {
				t.Errorf("length is %v, want %v", got.Length, want)
			}
			if got.LengthFrom != media.Header && got.LengthFrom != media.Counted {
				t.Errorf("the length is %s", got.LengthFrom)
			}
		})
	}
}
