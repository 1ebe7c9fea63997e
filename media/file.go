package media

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"slices"

	"longside/media/oneline"
	"longside/media/scan"
)

// statRegular looks at a file before it is opened: opening a pipe or a device
// can wait for ever.
func statRegular(path string) (fs.FileInfo, error) {
	st, err := os.Stat(path)
	switch {
	case err != nil:
		return nil, oneline.Error(err)
	case st.IsDir():
		return nil, errors.New("is a folder, not a file")
	case !st.Mode().IsRegular():
		return nil, errors.New("is a pipe or a device, not a file")
	}
	return st, nil
}

// openRegular opens a list.
func openRegular(path string) (*os.File, error) {
	if _, err := statRegular(path); err != nil {
		return nil, err
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, oneline.Error(err)
	}
	return f, nil
}

// read fills an item in: from its file, or from the cache. What the file holds
// of several tracks becomes the item's parts.
func (it *item) read(ctx context.Context, o Options) {
	path := it.track.Path
	t, in, err := readFile(ctx, path, o)
	t.Path = path
	setText(&t.Title, it.hint.Title)
	setText(&t.Artist, it.hint.Artist)
	setText(&t.Album, it.hint.Album)
	setNumber(&t.Number, it.hint.Number)
	if t.Title == "" {
		nameTitle(&t)
	}
	if err == nil {
		err = it.cut(t, in, o)
	}
	if err != nil && it.at != "" {
		err = fmt.Errorf("%w (%s)", err, it.at)
	}
	it.track, it.err = t, err
}

// cut makes the item's tracks of its file: by what names parts of it, else by
// the file's own cue sheet, else by its chapters where they are wanted.
func (it *item) cut(t Track, in inside, o Options) error {
	var err error
	switch {
	case it.parts != nil:
		it.tracks, err = cut(t, it.parts)
		return err
	case len(in.Sheet) > 0:
		if it.tracks, err = cut(t, in.Sheet); err != nil {
			// There is nothing that a person could mend with ease: the file is one track.
			t.Notes = append(t.Notes[:len(t.Notes):len(t.Notes)], fmt.Sprintf("its cue sheet is wrong and not used: %v", err))
		}
	case o.Chapters && len(in.Chapters) > 0:
		it.tracks, err = cut(t, in.Chapters)
		if err != nil {
			t.Notes = append(t.Notes[:len(t.Notes):len(t.Notes)], fmt.Sprintf("its chapters are wrong and not used: %v", err))
		}
	}
	if it.tracks == nil {
		for _, c := range in.Chapters {
			t.Chapters = append(t.Chapters, c.From)
		}
		it.tracks = []Track{t}
	}
	return nil
}

// readFile reads one file's length, tags, and what it holds of parts; the title
// may be empty.
func readFile(ctx context.Context, path string, o Options) (Track, inside, error) {
	st, err := statRegular(path)
	if err != nil {
		return Track{}, inside{}, err
	}
	if t, in, ok := remembered(o, path, st); ok {
		return t, in, nil
	}
	f, err := os.Open(path)
	if err != nil {
		return Track{}, inside{}, oneline.Error(err)
	}
	defer f.Close()
	look := scan.File
	if o.Count {
		look = scan.Walk
	}
	info, err := look(stoppableAt{ctx, f}, st.Size())
	if ctx.Err() != nil { // what was found of a file that was not read to its end says nothing
		return Track{}, inside{}, ctx.Err()
	}
	if err != nil {
		return Track{}, inside{}, oneline.Error(err)
	}
	t := Track{
		Size: st.Size(), ModTime: st.ModTime(),
		Length: info.Length(), LengthFrom: LengthFrom(info.From), Samples: info.Samples,
		SampleRate: info.Rate, Channels: info.Channels, Format: info.Format, Notes: info.Notes,
	}
	if o.Count {
		if err := count(ctx, f, info, &t); err != nil {
			return Track{}, inside{}, err
		}
	}
	var in inside
	if readTags(f, info, &t) || info.Chapters || slices.ContainsFunc(info.Tags, func(t scan.Tag) bool { return t.Kind == scan.FLACCueSheet }) {
		in = lookInside(f, st.Size(), info, &t)
	}
	remember(o, path, st, t, in)
	return t, in, nil
}
