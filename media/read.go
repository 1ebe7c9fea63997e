package media

import (
	"context"
	"errors"
	"fmt"
	"io"
	"runtime"
	"sync"
	"sync/atomic"

	"golang.org/x/sync/errgroup"

	"longside/media/cache"
)

// By is the order in which the files of a folder are read.
type By int

const (
	// ByName: natural order of names, "2" before "10".
	ByName By = iota
	// ByTag: disc, then track number, then name; within each folder.
	ByTag
)

// Options say how sources are read. The zero value is what most want.
type Options struct {
	Count    bool                  // decode each file, where there is a decoder, and compare the count with the header's
	By       By                    // order within a folder
	Chapters bool                  // read a file that has chapters as its chapters
	Workers  int                   // files read at once; 0: all cores
	Stdin    io.Reader             // for the source "-", a typed list
	Progress func(done, total int) // may be nil; never called by two goroutines at once
	Cache    *cache.Cache          // what earlier runs learnt; nil: none. The caller closes it
}

// Fault is a file whose length could not be had. Err is one line without the path.
type Fault struct {
	Path string
	Err  error
}

// Read gives the tracks of all sources in order, and every file whose length
// could not be had. A source is an audio file, a folder (with those in it), a
// playlist (M3U, M3U8, XSPF), a cue sheet, a typed list, or "-" for a list on
// o.Stdin. A file that holds several tracks by its cue sheet is read as these. A
// file's name may end in #t=90,120 (seconds, m:ss): that part of it. err is for
// the sources themselves: one line for each fault, which names the source and
// says what to do; tracks and faults are then empty.
func Read(ctx context.Context, sources []string, o Options) (tracks []Track, faults []Fault, err error) {
	if len(sources) == 0 {
		return nil, nil, errors.New("nothing to read: name a folder, audio files or a list")
	}
	var items []item
	var wrong []error
	for n, src := range sources {
		more, err := expand(ctx, src, o)
		if err != nil {
			wrong = append(wrong, err)
			if ctx.Err() != nil {
				break
			}
			continue
		}
		for i := range more {
			more[i].source = n
		}
		if items = append(items, more...); len(items) > MaxTracks {
			return nil, nil, errTooMany
		}
	}
	if len(wrong) > 0 {
		return nil, nil, errors.Join(wrong...)
	}
	if err := readAll(ctx, items, o); err != nil {
		return nil, nil, err
	}
	if ctx.Err() != nil { // what the last files said was the stop, not a fault
		return nil, nil, stopped(ctx)
	}
	if o.By == ByTag {
		sortByTag(items)
	}
	for _, it := range items {
		if it.err != nil {
			faults = append(faults, Fault{it.track.Path, it.err})
			continue
		}
		if it.tracks == nil { // known beforehand
			it.tracks = []Track{it.track}
		}
		if len(tracks)+len(it.tracks) > MaxTracks { // a file can hold many
			return nil, nil, errTooMany
		}
		for _, t := range it.tracks {
			t.Source = it.source
			tracks = append(tracks, t)
		}
	}
	return tracks, faults, nil
}

// item is one place in the answer: a track that is known already, or a file to read.
type item struct {
	track  Track
	known  bool    // nothing to read: a typed length, or a fault
	hint   Track   // what a playlist says of the file, for want of tags
	at     string  // the playlist's line, for a fault; empty: not from one
	source int     // number of the source it comes from
	folder string  // the folder whose order it belongs to; empty: its place was given
	parts  []Track // the parts of the file that are wanted; nil: all of it, or what the file says itself
	tracks []Track // what came of reading it
	err    error
}

// readAll fills the items in. They keep their places; only the work is spread.
func readAll(ctx context.Context, items []item, o Options) error {
	workers := o.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	var mu sync.Mutex
	done, total := 0, len(items)
	step := func() {
		if o.Progress == nil {
			return
		}
		mu.Lock()
		defer mu.Unlock()
		done++
		o.Progress(done, total)
	}
	// A file can hold many tracks, so that few files are too many: that ends the work.
	var held atomic.Int64
	g, ctx := errgroup.WithContext(ctx)
	next := make(chan int)
	g.Go(func() error {
		defer close(next)
		for i := range items {
			select {
			case next <- i:
			case <-ctx.Done():
				return nil // what stopped it is said by another, or by the caller
			}
		}
		return nil
	})
	for range min(workers, max(1, total)) {
		g.Go(func() error {
			for i := range next {
				it := &items[i]
				if !it.known {
					it.read(ctx, o)
				}
				if held.Add(it.holds()) > MaxTracks {
					return errTooMany
				}
				step()
			}
			return nil
		})
	}
	return g.Wait()
}

// holds is how many tracks came of an item; chapters that were not taken count
// for a tenth of one, which is what they take of memory.
func (it *item) holds() int64 {
	n := max(1, len(it.tracks))
	for _, t := range it.tracks {
		n += len(t.Chapters) / 10
	}
	return int64(n)
}

func stopped(ctx context.Context) error {
	return fmt.Errorf("stopped before all files were read: %w", context.Cause(ctx))
}
