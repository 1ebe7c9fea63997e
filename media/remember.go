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
	readKind    = "track 2"
	countedKind = "track counted 2"
)

func kind(o Options) string {
	if o.Count {
		return countedKind
	}
	return readKind
}

// remembered gives a track as it was read in an earlier run, if the file's size
// and time are those of then.
func remembered(o Options, path string, st fs.FileInfo) (t Track, ok bool) {
	if o.Cache == nil {
		return t, false
	}
	b, ok := o.Cache.Get(kind(o), path, st.Size(), st.ModTime())
	if !ok || json.Unmarshal(b, &t) != nil || t.Length <= 0 {
		return Track{}, false
	}
	t.Size, t.ModTime = st.Size(), st.ModTime()
	return t, true
}

func remember(o Options, path string, st fs.FileInfo, t Track) {
	if o.Cache == nil {
		return
	}
	t.Path, t.ModTime = "", time.Time{}
	if b, err := json.Marshal(t); err == nil {
		o.Cache.Put(kind(o), path, st.Size(), st.ModTime(), b)
	}
}
