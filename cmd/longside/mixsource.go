package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"time"

	"longside/media"
	"longside/media/oneline"
	"longside/planner"
)

// maxMixFile bounds a mix file, in bytes.
const maxMixFile = 8 << 20

// items reads all sources in the order given: mix files, and what media reads.
// What a mix file says of the whole mix is put on the request where no flag of
// the command spoke of it (unset tells).
func (a *app) items(ctx context.Context, sources []string, f *requestFlags, r *planner.Request, unset func(flag string) bool) ([]media.Fault, error) {
	// What media is to read, and for each of it the wish of the mix file's entry.
	var read []string
	var wish []planner.MixEntry
	// Entries that come from no file, by the number of the source that they stand before.
	loose := map[int][]planner.Item{}
	before := map[string]mixSaid{}
	for _, src := range sources {
		if !strings.EqualFold(filepath.Ext(src), ".toml") {
			read, wish = append(read, src), append(wish, planner.MixEntry{})
			continue
		}
		m, err := readMix(src)
		if err != nil {
			return nil, err
		}
		if err := clash(before, src, m, unset); err != nil {
			return nil, err
		}
		if err := setMix(r, m, unset); err != nil {
			return nil, fmt.Errorf("%s: %w", src, err)
		}
		for i, e := range m.Tracks {
			if e.From == "" {
				it, err := looseItem(e)
				if err != nil {
					return nil, fmt.Errorf("%s: track %d: %w", src, i+1, err)
				}
				loose[len(read)] = append(loose[len(read)], it)
				continue
			}
			from := filepath.FromSlash(e.From)
			if !filepath.IsAbs(from) {
				from = filepath.Join(filepath.Dir(src), from)
			}
			read, wish = append(read, from), append(wish, e)
		}
	}
	var tracks []media.Track
	var faults []media.Fault
	var err error
	if len(read) > 0 {
		if tracks, faults, err = a.readTracks(ctx, read, f.readOptions(), !f.fresh); err != nil {
			return nil, err
		}
	}
	next := 0
	for n := range len(read) + 1 {
		r.Mix.Items = append(r.Mix.Items, loose[n]...)
		if n < len(read) && wish[n].Number > 0 && next < len(tracks) && tracks[next].Source == n {
			if tracks, err = only(tracks, next, n, wish[n]); err != nil {
				return nil, err
			}
		}
		for ; next < len(tracks) && tracks[next].Source == n; next++ {
			w, err := wish[n].Wish()
			if err != nil {
				return nil, err
			}
			t := tracks[next]
			many := w.Opens == planner.Anywhere && w.Closes == planner.Anywhere && w.Split == 0 && wish[n].Title == ""
			if !many && next+1 < len(tracks) && tracks[next+1].Source == n {
				return nil, fmt.Errorf("%s: holds several tracks: opens, closes, split and title speak of one; give each track an entry of its own", wish[n].From)
			}
			if wish[n].Title != "" {
				t.Title = oneline.Text(wish[n].Title)
			}
			if wish[n].Artist != "" {
				t.Artist = oneline.Text(wish[n].Artist)
			}
			r.Mix.Items = append(r.Mix.Items, planner.Item{Track: t, Wish: w})
		}
	}
	return faults, nil
}

// only keeps of the tracks of source n, which begin at first, the one that a mix
// file's entry asks for by its number.
func only(tracks []media.Track, first, n int, e planner.MixEntry) ([]media.Track, error) {
	end := first
	for end < len(tracks) && tracks[end].Source == n {
		end++
	}
	if e.Number > end-first {
		return nil, fmt.Errorf("%s: has no track number %d: there are %d", e.From, e.Number, end-first)
	}
	at := first + e.Number - 1
	return slices.Concat(tracks[:first], tracks[at:at+1], tracks[end:]), nil
}

// looseItem is a track of a mix file that comes from no file.
func looseItem(e planner.MixEntry) (planner.Item, error) {
	d, err := planner.ParseTime(e.Length, time.Second)
	if err != nil || d <= 0 {
		return planner.Item{}, fmt.Errorf("length %q: write it as 3:12", e.Length)
	}
	w, err := e.Wish()
	return planner.Item{
		Track: media.Track{Title: oneline.Text(e.Title), Artist: oneline.Text(e.Artist), Length: d, LengthFrom: media.Typed},
		Wish:  w,
	}, err
}

// readMix reads a mix file.
func readMix(path string) (planner.MixFile, error) {
	data, err := readBounded(path, maxMixFile)
	if err != nil {
		return planner.MixFile{}, err
	}
	m, err := planner.ParseMix(data)
	if err != nil {
		return m, fmt.Errorf("%s: %w", path, err)
	}
	return m, nil
}

// mixSaid is what one mix file says of the whole mix under one key.
type mixSaid struct {
	file  string
	value any
}

// clash refuses a second mix file that says something else of the whole mix than
// one before it, where no flag decides: one would overrule the other in silence.
func clash(before map[string]mixSaid, src string, m planner.MixFile, unset func(string) bool) error {
	v := reflect.ValueOf(m)
	for i := range v.NumField() {
		key := v.Type().Field(i).Tag.Get("toml")
		if f := v.Field(i); key == "" || key == "format" || key == "version" || key == "track" || f.IsZero() || !unset(key) {
			continue
		}
		value := v.Field(i).Interface()
		if b, ok := before[key]; ok && !reflect.DeepEqual(b.value, value) {
			return fmt.Errorf("%s and %s each say what %s is to be, and differ: take it out of one, or give --%s", plain(b.file), plain(src), key, key)
		}
		before[key] = mixSaid{src, value}
	}
	return nil
}

// setMix puts what a mix file says of the whole on the request; flags go first.
func setMix(r *planner.Request, m planner.MixFile, unset func(string) bool) (err error) {
	if m.Title != "" && unset("title") {
		r.Mix.Title = oneline.Text(m.Title)
	}
	if m.Note != "" && unset("note") {
		r.Mix.Note = oneline.Text(m.Note)
	}
	if m.Order != "" && unset("order") {
		if r.Order, err = planner.ParseOrder(m.Order); err != nil {
			return err
		}
	}
	if m.Spare != "" && unset("spare") {
		if r.Spare, err = planner.ParseSpare(m.Spare); err != nil {
			return err
		}
	}
	if m.Aim != "" && unset("aim") {
		if r.Aim, err = planner.ParseAim(m.Aim); err != nil {
			return err
		}
	}
	if m.Gap != "" && unset("gap") {
		if r.Gap, err = planner.ParseTime(m.Gap, time.Second); err != nil {
			return fmt.Errorf("gap %q: %w", m.Gap, err)
		}
	}
	if m.Apart != 0 && unset("apart") {
		r.Apart = m.Apart
	}
	for side, arc := range m.Arc {
		if unset("arc") {
			if err := r.SetArc(side, arc); err != nil {
				return err
			}
		}
	}
	return nil
}

// readBounded reads a file that the person named, but not without end.
func readBounded(path string, most int64) ([]byte, error) {
	st, err := os.Stat(path)
	switch {
	case err != nil:
		return nil, fmt.Errorf("%s: %w", plain(path), bare(err))
	case !st.Mode().IsRegular():
		return nil, fmt.Errorf("%s: not a file", plain(path))
	case st.Size() > most:
		return nil, fmt.Errorf("%s: %d MB is too large for such a file", plain(path), st.Size()>>20)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("%s: cannot be read: %w", plain(path), bare(err))
	}
	defer f.Close()
	// Room is made once: a buffer that grows holds the file several times over.
	data := bytes.NewBuffer(make([]byte, 0, st.Size()+bytes.MinRead))
	n, err := data.ReadFrom(io.LimitReader(f, most+1))
	if err == nil && n > most {
		err = fmt.Errorf("more than %d MB", most>>20)
	}
	if err != nil {
		return nil, fmt.Errorf("%s: cannot be read: %w", plain(path), bare(err))
	}
	return data.Bytes(), nil
}
