package media

import (
	"encoding/json"
	"io/fs"
	"time"
)

// The kinds under which the cache keeps tracks. The number is the version of all
// that goes into a Track from its file: raise it when a scanner or a tag reader
// gives another answer.
const (
	readKind    = "track 3"
	countedKind = "track counted 3"
)

func kind(o Options) string {
	if o.Count {
		return countedKind
	}
	return readKind
}

// keptFile is what the cache keeps of a file.
type keptFile struct {
	Track  Track
	Inside inside
}

// remembered gives a track as it was read in an earlier run, if the file's size
// and time are those of then.
func remembered(o Options, path string, st fs.FileInfo) (t Track, in inside, ok bool) {
	if o.Cache == nil {
		return t, in, false
	}
	var k keptFile
	b, ok := o.Cache.Get(kind(o), path, st.Size(), st.ModTime())
	if !ok || json.Unmarshal(b, &k) != nil || k.Track.Length <= 0 {
		return t, in, false
	}
	// A cache may have been written by anyone: what no scanner gives is not known.
	switch t := k.Track; {
	case t.LengthFrom != Counted && t.LengthFrom != Header && t.LengthFrom != Estimated, t.Length > 100*time.Hour,
		t.Samples < 0, t.SampleRate < 0, t.Channels < 0,
		t.Title != clean(t.Title), t.Artist != clean(t.Artist), t.Album != clean(t.Album), t.Genre != clean(t.Genre):
		return Track{}, inside{}, false
	}
	k.Track.Size, k.Track.ModTime = st.Size(), st.ModTime()
	return k.Track, k.Inside, true
}

func remember(o Options, path string, st fs.FileInfo, t Track, in inside) {
	if o.Cache == nil {
		return
	}
	t.Path, t.ModTime = "", time.Time{}
	if b, err := json.Marshal(keptFile{t, in}); err == nil {
		o.Cache.Put(kind(o), path, st.Size(), st.ModTime(), b)
	}
}
