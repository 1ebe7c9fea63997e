package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"

	"longside/media"
)

// listFiles are the lists that lengths writes of what it read.
type listFiles struct {
	m3u, csv string
	force    bool
}

// writeLists writes the lists that are wanted, all or none; none of a reading
// with faults that were not accepted.
func (a *app) writeLists(ctx context.Context, l listFiles, tracks []media.Track, faults []media.Fault, skipBad bool) error {
	if l.m3u == "" && l.csv == "" || len(faults) > 0 && !skipBad {
		return nil
	}
	var files []output
	for _, f := range []struct {
		path   string
		encode func(base string) []byte
	}{
		{l.m3u, func(base string) []byte {
			text, left := media.EncodeM3U(tracks, base)
			if left > 0 {
				fmt.Fprintf(a.err, "longside: %s: %d %s from no file: a playlist cannot hold %s, a table (--csv) can\n", plain(l.m3u), left, plural(left, "track comes", "tracks come"), plural(left, "it", "them"))
			}
			return text
		}},
		{l.csv, func(base string) []byte { return media.EncodeCSV(tracks, base) }},
	} {
		if f.path == "" {
			continue
		}
		base, err := filepath.Abs(filepath.Dir(f.path))
		if err != nil {
			return err
		}
		files = append(files, output{path: f.path, data: f.encode(base)})
	}
	if len(files) == 2 && filepath.Clean(l.m3u) == filepath.Clean(l.csv) {
		return errors.New("--m3u and --csv name one file: give each its own")
	}
	return a.writeAll(ctx, files, false, l.force)
}
