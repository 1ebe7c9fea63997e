package media

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"

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

// read fills an item in: from its file, or from the cache.
func (it *item) read(ctx context.Context, o Options) {
	path := it.track.Path
	t, err := readFile(ctx, path, o)
	if err != nil && it.at != "" {
		err = fmt.Errorf("%w (%s)", err, it.at)
	}
	t.Path = path
	setText(&t.Title, it.hint.Title)
	setText(&t.Artist, it.hint.Artist)
	setText(&t.Album, it.hint.Album)
	setNumber(&t.Number, it.hint.Number)
	if t.Title == "" {
		nameTitle(&t)
	}
	it.track, it.err = t, err
}

// readFile reads one file's length and tags; the title may be empty.
func readFile(ctx context.Context, path string, o Options) (Track, error) {
	st, err := statRegular(path)
	if err != nil {
		return Track{}, err
	}
	if t, ok := remembered(o, path, st); ok {
		return t, nil
	}
	f, err := os.Open(path)
	if err != nil {
		return Track{}, oneline.Error(err)
	}
	defer f.Close()
	look := scan.File
	if o.Count {
		look = scan.Walk
	}
	info, err := look(f, st.Size())
	if err != nil {
		return Track{}, oneline.Error(err)
	}
	t := Track{
		Size: st.Size(), ModTime: st.ModTime(),
		Length: info.Length(), LengthFrom: LengthFrom(info.From), Samples: info.Samples,
		SampleRate: info.Rate, Channels: info.Channels, Format: info.Format, Notes: info.Notes,
	}
	if o.Count {
		if err := count(ctx, f, info, &t); err != nil {
			return Track{}, err
		}
	}
	readTags(f, info, &t)
	remember(o, path, st, t)
	return t, nil
}
