package media

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sort"
	"strings"

	"github.com/maruel/natural"
)

// audioNames are the endings that a file of sound has in a folder. Others are
// passed over silently: pictures, texts, lists. What a file really is, its bytes
// tell.
var audioNames = map[string]bool{
	".mp3": true, ".mp2": true, ".mp1": true, ".mpga": true,
	".flac": true, ".wav": true, ".wave": true, ".rf64": true, ".bw64": true,
	".aif": true, ".aiff": true, ".aifc": true,
	".ogg": true, ".oga": true, ".opus": true, ".m4a": true, ".m4b": true, ".aac": true,
}

func isAudioName(name string) bool { return audioNames[strings.ToLower(filepath.Ext(name))] }

// expand turns a source into its items, the files not yet read.
func expand(ctx context.Context, src string, o Options) ([]item, error) {
	if src == "-" {
		if o.Stdin == nil {
			return nil, errors.New(`"-": there is no standard input to read a list from`)
		}
		return readList(o.Stdin, "standard input", "")
	}
	st, err := os.Stat(src)
	if err != nil {
		return nil, fmt.Errorf("%q: %w", src, plain(err))
	}
	switch {
	case st.IsDir():
		items, err := expandFolder(ctx, src)
		if err == nil && len(items) == 0 {
			err = fmt.Errorf("%q: no audio in this folder: name another, or audio files", src)
		}
		return items, err
	case isPlaylistName(src):
		f, err := openRegular(src)
		if err != nil {
			return nil, fmt.Errorf("%q: %w", src, err)
		}
		defer f.Close()
		return readPlaylist(f, src, filepath.Dir(src))
	case isListName(src):
		f, err := openRegular(src)
		if err != nil {
			return nil, fmt.Errorf("%q: %w", src, err)
		}
		defer f.Close()
		return readList(f, src, filepath.Ext(src))
	}
	return []item{{track: Track{Path: src}}}, nil
}

// expandFolder lists the audio files of a folder and of those in it, each folder
// in natural order. A folder met before, through a link, is not read again.
func expandFolder(ctx context.Context, root string) ([]item, error) {
	var items []item
	var seen []fs.FileInfo // the folders between the root and here
	var walk func(dir string) error
	walk = func(dir string) error {
		if err := ctx.Err(); err != nil {
			return fmt.Errorf("%q: stopped: %w", root, context.Cause(ctx))
		}
		st, err := os.Stat(dir)
		if err != nil {
			return fmt.Errorf("%q: %w", dir, plain(err))
		}
		for _, up := range seen {
			if os.SameFile(up, st) {
				return nil // a link back up
			}
		}
		seen = append(seen, st)
		defer func() { seen = seen[:len(seen)-1] }()
		entries, err := os.ReadDir(dir)
		if err != nil {
			if dir == root {
				return fmt.Errorf("%q: %w", dir, plain(err))
			}
			items = append(items, item{track: Track{Path: dir}, known: true, err: plain(err)})
			return nil
		}
		sort.SliceStable(entries, func(i, j int) bool { return lessName(entries[i].Name(), entries[j].Name()) })
		for _, e := range entries {
			path := filepath.Join(dir, e.Name())
			kind := e.Type()
			if kind&fs.ModeSymlink != 0 {
				if st, err := os.Stat(path); err == nil {
					kind = st.Mode().Type()
				}
			}
			switch {
			case strings.HasPrefix(e.Name(), "."): // hidden: a system's own business
			case kind.IsDir():
				if err := walk(path); err != nil {
					return err
				}
			case isAudioName(e.Name()):
				items = append(items, item{track: Track{Path: path}, folder: dir})
			}
		}
		return nil
	}
	return items, walk(root)
}

// lessName is the natural order of names, upper and lower case together.
func lessName(a, b string) bool {
	if c := natural.Compare(strings.ToLower(a), strings.ToLower(b)); c != 0 {
		return c < 0
	}
	return a < b
}

// sortByTag orders the files of each folder by disc and track number; those
// without a number come after the others, by name as before.
func sortByTag(items []item) {
	for i := 0; i < len(items); {
		j := i + 1
		for j < len(items) && items[j].folder != "" && items[j].folder == items[i].folder {
			j++
		}
		run := items[i:j]
		sort.SliceStable(run, func(a, b int) bool {
			x, y := run[a].track, run[b].track
			if (x.Number == 0) != (y.Number == 0) {
				return y.Number == 0
			}
			if x.Number == 0 {
				return false
			}
			if x.Disc != y.Disc {
				return x.Disc < y.Disc
			}
			return x.Number < y.Number
		})
		i = j
	}
}
