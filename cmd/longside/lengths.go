package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"longside/media"
	"longside/media/cache"
	"longside/planner"
)

// newLengths is the command that shows what is read of the sources.
func newLengths(a *app) *cobra.Command {
	var o media.Options
	var asJSON, skipBad, fresh bool
	var lists listFiles
	by := "name"
	c := &cobra.Command{
		Use:   "lengths SOURCES...",
		Short: "Show the exact length of each track, and how it is known",
		Long: `Show the exact length of each track, as a listener gets it, and how it is known:

  counted    every frame of the file was walked or decoded
  header     the file states it, and a spot check agreed
  typed      a person wrote it in a list: half a second either way
  estimated  neither; a note says why

A source is a folder (with the folders in it), an audio file, a playlist (M3U,
M3U8, XSPF), a cue sheet (CUE), or a typed list (CSV with the header
length,artist,title, or lines "m:ss  Artist - Title"; - reads it from standard
input). Lines of a list that begin with # are left out, except CSV rows that
hold a length ("#1 Fog,3:45"); with a space behind the # those are, too.

An album in one file with a cue sheet, beside it or inside a FLAC, is read as
its tracks, and a file's name with #t=1:30,4:00 at its end as that part of it.

--m3u and --csv write what was read as a list, to put in another order, to thin
out, or to give other titles, and to read again. In a table the column file
makes a row that file; its length is then the file's, whatever is written.

What was learnt of a file is kept in the user's cache folder, by its path, size
and time, so that a second run is quick; the folder can be deleted at any time.

Exit status: 0 all were read, 2 a file could not be read or something was wrong.`,
		Example: `  longside lengths ~/music/crossing
  longside lengths crossing.m3u8 records.csv --count --json`,
		Args: someSources,
		RunE: func(c *cobra.Command, sources []string) error {
			if by == "tag" {
				o.By = media.ByTag
			}
			tracks, faults, err := a.readTracks(c.Context(), sources, o, !fresh)
			if err != nil {
				return err
			}
			if err := a.writeLists(c.Context(), lists, tracks, faults, skipBad); err != nil {
				return err
			}
			if asJSON {
				err = a.printJSON(lengthsAnswer(tracks, faults))
			} else {
				a.showLengths(tracks)
			}
			if err != nil {
				return err
			}
			if skipBad && len(tracks) > 0 {
				a.leftOut(faults, len(tracks), "read")
				return nil
			}
			return faultLines(faults, len(tracks))
		},
	}
	fl := c.Flags()
	fl.SortFlags = false
	fl.Var(oneOf(&by, "name", "tag"), "by", "order of the tracks in a folder")
	fl.BoolVar(&o.Chapters, "chapters", false, "take a file that has chapters (M4A, M4B, MP3, Ogg, FLAC) as its chapters")
	fl.BoolVar(&o.Count, "count", false, "decode every file and compare with its header (slow)")
	fl.BoolVar(&skipBad, "skip-bad", false, "go on without files that cannot be read")
	fl.BoolVar(&fresh, "no-cache", false, "read every file anew, and keep nothing")
	fl.StringVar(&lists.m3u, "m3u", "", "write what was read as a playlist to this `FILE`")
	fl.StringVar(&lists.csv, "csv", "", "write it as a table to this `FILE`, to edit and to read again")
	fl.BoolVar(&lists.force, "force", false, "replace files that exist")
	fl.BoolVar(&asJSON, "json", false, "answer as JSON")
	c.RegisterFlagCompletionFunc("by", cobra.FixedCompletions([]string{"name", "tag"}, cobra.ShellCompDirectiveNoFileComp))
	return c
}

// readTracks reads sources with a progress line, and with what earlier runs
// learnt when remember is set. A cache that fails is done without.
func (a *app) readTracks(ctx context.Context, sources []string, o media.Options, remember bool) ([]media.Track, []media.Fault, error) {
	step, end := a.progress("reading")
	defer end()
	o.Stdin, o.Progress = a.in, step
	if remember {
		if c, err := cache.Open(cache.Dir()); err == nil {
			o.Cache = c
			defer c.Save(ctx)
		}
	}
	return media.Read(ctx, sources, o)
}

// faultLines is one line for each file that could not be read, and what to do.
func faultLines(faults []media.Fault, good int) error {
	if len(faults) == 0 {
		return nil
	}
	lines := append(named(faults), fmt.Errorf("%d of %d files cannot be read: mend or remove them, or go on without them with --skip-bad", len(faults), len(faults)+good))
	return errors.Join(lines...)
}

// named is one line for each file that could not be read.
func named(faults []media.Fault) (lines []error) {
	for _, f := range faults {
		lines = append(lines, fmt.Errorf("%s: %w", plain(f.Path), f.Err))
	}
	return lines
}

// leftOut tells which files --skip-bad went on without; what for, the verb says.
func (a *app) leftOut(faults []media.Fault, good int, verb string) {
	if len(faults) == 0 {
		return
	}
	lines := append(named(faults), fmt.Errorf("%d of %d files could not be %s and are left out", len(faults), len(faults)+good, verb))
	for _, l := range lines {
		fmt.Fprintln(a.err, "longside: "+plain(l.Error()))
	}
}

// lengthsJSON is the answer for scripts. Fields may be added; none changes its meaning.
type lengthsJSON struct {
	Tracks []lengthJSON `json:"tracks"`
	Faults []faultJSON  `json:"faults,omitempty"`
}

type lengthJSON struct {
	Path       string   `json:"path"` // empty for a typed length
	LengthS    float64  `json:"length_s"`
	LengthFrom string   `json:"length_from"`
	Title      string   `json:"title"`
	Artist     string   `json:"artist,omitempty"`
	Album      string   `json:"album,omitempty"`
	Genre      string   `json:"genre,omitempty"`
	Year       int      `json:"year,omitempty"`
	Disc       int      `json:"disc,omitempty"`
	Number     int      `json:"number,omitempty"`
	Format     string   `json:"format,omitempty"`
	Samples    int64    `json:"samples,omitempty"`
	RateHz     int      `json:"rate_hz,omitempty"`
	Channels   int      `json:"channels,omitempty"`
	Notes      []string `json:"notes,omitempty"`
	Part       bool     `json:"part,omitempty"`     // a part of its file
	FromS      float64  `json:"from_s,omitempty"`   // where in it, to the nanosecond
	Chapters   int      `json:"chapters,omitempty"` // how many are in it, where they are not taken as tracks
}

type faultJSON struct {
	Path string `json:"path"`
	Says string `json:"says"`
}

func lengthsAnswer(tracks []media.Track, faults []media.Fault) lengthsJSON {
	j := lengthsJSON{Tracks: []lengthJSON{}}
	for _, t := range tracks {
		j.Tracks = append(j.Tracks, lengthJSON{
			t.Path, t.Length.Seconds(), string(t.LengthFrom), t.Title, t.Artist, t.Album, t.Genre,
			t.Year, t.Disc, t.Number, t.Format, t.Samples, t.SampleRate, t.Channels, t.Notes,
			t.Part, t.From.Seconds(), len(t.Chapters),
		})
	}
	for _, f := range faults {
		j.Faults = append(j.Faults, faultJSON{f.Path, f.Err.Error()})
	}
	return j
}

// showLengths prints a row a track, its notes under it, and the sum.
func (a *app) showLengths(tracks []media.Track) {
	if len(tracks) == 0 {
		return
	}
	wide := len("length")
	for _, t := range tracks {
		wide = max(wide, len(toTheMillisecond(t)))
	}
	digits := len(fmt.Sprint(len(tracks)))
	lead := fmt.Sprintf("%*s  %*s  %-9s  %-4s  ", digits, "", wide, "length", "known", "kind")
	room := min(a.width, maxRow) - len(lead) - 1
	fmt.Fprintln(a.out, a.paint(faint, lead+"track"))
	var sum time.Duration
	known := map[media.LengthFrom]int{}
	for i, t := range tracks {
		name := t.Title
		if t.Artist != "" {
			name = t.Artist + " - " + name
		}
		from := a.paint(good, pad(string(t.LengthFrom), 9))
		if t.LengthFrom != media.Header && t.LengthFrom != media.Counted {
			from = a.paint(care, pad(string(t.LengthFrom), 9))
		}
		fmt.Fprintf(a.out, "%*d  %*s  %s  %-4s  %s\n", digits, i+1, wide, toTheMillisecond(t), from, t.Format, clip(plain(name), room))
		if n := len(t.Chapters); n > 1 {
			t.Notes = append(t.Notes[:len(t.Notes):len(t.Notes)], fmt.Sprintf("%d chapters are in it: --chapters takes them as tracks", n))
		}
		for _, n := range t.Notes {
			a.wrap(fmt.Sprintf("%*s%s", digits+2, "", a.paint(care, "note:")), digits+2+6, plain(n))
		}
		sum += t.Length
		known[t.LengthFrom]++
	}
	fmt.Fprintf(a.out, "%*s  %*s  %s\n", digits, "", wide, planner.Clock(sum), a.paint(strong, fmt.Sprintf("%d %s, gaps not counted", len(tracks), plural(len(tracks), "track", "tracks"))))
	if n := known[media.Typed]; n > 0 {
		a.wrap(a.paint(faint, "typed:"), 7, fmt.Sprintf("%d %s to the second, so the sum may be off by %s either way", n, plural(n, "length is", "lengths are"), planner.Clock(time.Duration(n)*time.Second/2)))
	}
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// toTheMillisecond writes a length as it is known: m:ss.mmm, and a typed one as m:ss.
func toTheMillisecond(t media.Track) string {
	if t.LengthFrom == media.Typed && t.Length%time.Second == 0 {
		return planner.Clock(t.Length)
	}
	ms := t.Length.Round(time.Millisecond).Milliseconds()
	return fmt.Sprintf("%d:%02d.%03d", ms/60000, ms/1000%60, ms%1000)
}
