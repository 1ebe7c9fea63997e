package media

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/maruel/natural"

	"longside/media/cue"
	"longside/media/oneline"
)

// audioNames are the endings that a file of sound has in a folder. Others are
// passed over silently: pictures, texts, lists. What a file really is, its bytes
// tell.
var audioNames = map[string]bool{
	".mp3": true, ".mp2": true, ".mp1": true, ".mpga": true,
	".flac": true, ".wav": true, ".wave": true, ".rf64": true, ".bw64": true, ".w64": true,
	".aif": true, ".aiff": true, ".aifc": true,
	".ogg": true, ".oga": true, ".opus": true, ".m4a": true, ".m4b": true, ".aac": true,
	// Sound that is not read here: told of, so that no track is missed in silence.
	".wma": true, ".mka": true, ".ape": true, ".wv": true, ".tta": true, ".mpc": true, ".dsf": true, ".dff": true,
	".caf": true, ".au": true, ".snd": true, ".ac3": true, ".dts": true, ".ra": true, ".amr": true, ".spx": true,
}

func isAudioName(name string) bool { return audioNames[strings.ToLower(filepath.Ext(name))] }

// expand turns a source into its items, the files not yet read.
func expand(ctx context.Context, src string, o Options) ([]item, error) {
	if src == "-" {
		if o.Stdin == nil {
			return nil, errors.New(`-: there is no standard input to read a list from`)
		}
		return readList(o.Stdin, "standard input", "", ".")
	}
	name := oneline.Shown(src)
	st, err := os.Stat(src)
	if err != nil {
		if file, part, ok := stretchOf(src); ok && !isPlaylistName(file) && !isListName(file) {
			return []item{{track: Track{Path: file}, parts: []Track{part}}}, nil
		}
		return nil, fmt.Errorf("%s: %w", name, oneline.Error(err))
	}
	switch {
	case st.IsDir():
		items, err := expandFolder(ctx, src)
		if err == nil && len(items) == 0 {
			err = fmt.Errorf("%s: no audio in this folder: name another, or audio files", name)
		}
		return items, err
	case isSheetName(src):
		items, err := openSheet(src)
		var at *cue.Error
		switch {
		case errors.As(err, &at):
			err = fmt.Errorf("%s:%d: %s", name, at.Line, at.Says)
		case err != nil:
			err = fmt.Errorf("%s: %w", name, err)
		}
		return items, err
	case isPlaylistName(src):
		f, err := openRegular(src)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		defer f.Close()
		return readPlaylist(f, name, filepath.Ext(src), filepath.Dir(src))
	case isListName(src):
		f, err := openRegular(src)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		defer f.Close()
		return readList(f, name, filepath.Ext(src), filepath.Dir(src))
	}
	return []item{{track: Track{Path: src}}}, nil
}

// expandFolder lists the audio files of a folder and of those in it, each folder
// in natural order. A link to a folder is followed once, and not at all when it
// leads to where this source is read anyway: so links cannot go round.
func expandFolder(ctx context.Context, root string) ([]item, error) {
	top, err := filepath.EvalSymlinks(root)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", oneline.Shown(root), oneline.Error(err))
	}
	w := folderWalk{ctx: ctx, root: root, top: top, linked: map[string]bool{}, sheeted: map[string]bool{}}
	err = w.folder(root)
	return w.items, err
}

type folderWalk struct {
	ctx       context.Context
	root, top string          // the source as given, and without links
	linked    map[string]bool // folders that a link led to
	sheeted   map[string]bool // files that a cue sheet speaks of
	parts     int             // tracks of all the cue sheets
	items     []item
}

func (w *folderWalk) folder(dir string) error {
	if w.ctx.Err() != nil {
		return fmt.Errorf("%s: %w", oneline.Shown(w.root), stopped(w.ctx))
	}
	entries, err := w.list(dir)
	if err != nil {
		if dir == w.root || errors.Is(err, errTooMany) || w.ctx.Err() != nil {
			return fmt.Errorf("%s: %w", oneline.Shown(dir), oneline.Error(err))
		}
		w.items = append(w.items, item{track: Track{Path: dir}, known: true, err: oneline.Error(err)})
		return nil
	}
	slices.SortStableFunc(entries, func(a, b fs.DirEntry) int { return compareNames(a.Name(), b.Name()) })
	sheets := w.sheets(dir, entries)
	if w.parts > MaxTracks {
		return fmt.Errorf("%s: %w", oneline.Shown(w.root), errTooMany)
	}
	for _, e := range entries {
		path := filepath.Join(dir, e.Name())
		isDir := e.IsDir()
		if e.Type()&fs.ModeSymlink != 0 {
			if st, err := os.Stat(path); err == nil && st.IsDir() {
				if !w.follow(path) {
					continue
				}
				isDir = true
			}
		}
		switch {
		case strings.HasPrefix(e.Name(), "."): // hidden: a system's own business
		case isDir:
			if err := w.folder(path); err != nil {
				return err
			}
		case isSheetName(e.Name()):
			w.items = append(w.items, sheets[e.Name()]...)
		case w.sheeted[path]:
		case isAudioName(e.Name()):
			w.items = append(w.items, item{track: Track{Path: path}, folder: dir})
		}
	}
	return nil
}

// list gives what a folder holds, but for what is of no use here: of a folder
// with a million files little need be kept.
func (w *folderWalk) list(dir string) (entries []fs.DirEntry, err error) {
	f, err := os.Open(dir)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	for {
		some, err := f.ReadDir(4096)
		for _, e := range some {
			if isAudioName(e.Name()) || isSheetName(e.Name()) || !e.Type().IsRegular() {
				entries = append(entries, e)
			}
		}
		switch {
		case len(w.items)+len(entries) > MaxTracks:
			return nil, errTooMany
		case errors.Is(err, io.EOF):
			return entries, nil
		case err != nil:
			return entries, err
		}
		if w.ctx.Err() != nil {
			return nil, stopped(w.ctx)
		}
	}
}

// sheets reads the cue sheets of a folder, by name. A sheet whose files are gone,
// as it stays behind when an album was cut up, is passed over where the folder
// holds other sound; so is one that speaks of files which another speaks of.
func (w *folderWalk) sheets(dir string, entries []fs.DirEntry) map[string][]item {
	sheets := map[string][]item{}
	audio := slices.ContainsFunc(entries, func(e fs.DirEntry) bool { return isAudioName(e.Name()) })
	for _, e := range entries {
		path := filepath.Join(dir, e.Name())
		if !isSheetName(e.Name()) || strings.HasPrefix(e.Name(), ".") {
			continue
		}
		if w.parts > MaxTracks {
			break
		}
		items, err := openSheet(path)
		if err != nil {
			sheets[e.Name()] = []item{{track: Track{Path: path}, known: true, err: err}}
			continue
		}
		there, taken := 0, false
		for _, it := range items {
			if _, err := os.Stat(it.track.Path); err == nil {
				there++
			}
			taken = taken || w.sheeted[it.track.Path]
		}
		if taken || there == 0 && audio {
			continue
		}
		for i := range items {
			w.parts += len(items[i].parts)
			items[i].folder = dir
			w.sheeted[items[i].track.Path] = true
		}
		sheets[e.Name()] = items
	}
	return sheets
}

// follow tells whether a link to a folder is to be followed.
func (w *folderWalk) follow(path string) bool {
	to, err := filepath.EvalSymlinks(path)
	if err != nil || w.linked[to] {
		return false
	}
	within := func(dir, of string) bool {
		rel, err := filepath.Rel(of, dir)
		return err == nil && rel != ".." && !strings.HasPrefix(rel, ".."+string(filepath.Separator))
	}
	if within(to, w.top) || within(w.top, to) {
		return false
	}
	w.linked[to] = true
	return true
}

// compareNames is the natural order of names, upper and lower case together.
func compareNames(a, b string) int {
	if c := natural.Compare(strings.ToLower(a), strings.ToLower(b)); c != 0 {
		return c
	}
	return strings.Compare(a, b)
}

// sortByTag orders the files of each folder by disc and track number, in the
// places that the folder's files have; those without a number come after the
// others, by name as before.
func sortByTag(items []item) {
	type place struct {
		source int
		folder string
	}
	places := map[place][]int{}
	for i, it := range items {
		if it.folder != "" {
			k := place{it.source, it.folder}
			places[k] = append(places[k], i)
		}
	}
	for _, at := range places { // each on its own: in any order
		run := make([]item, len(at))
		for k, i := range at {
			run[k] = items[i]
		}
		slices.SortStableFunc(run, func(a, b item) int {
			x, y := a.track, b.track
			switch {
			case x.Number == 0 && y.Number == 0:
				return 0
			case x.Number == 0:
				return 1
			case y.Number == 0:
				return -1
			}
			return cmp.Or(cmp.Compare(x.Disc, y.Disc), cmp.Compare(x.Number, y.Number))
		})
		for k, i := range at {
			items[i] = run[k]
		}
	}
}
