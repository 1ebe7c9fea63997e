package media

import (
	"fmt"
	"strings"
	"time"

	"longside/media/scan"
)

// A track can be a part of its file: an album in one file with a cue sheet, a
// recording with chapters, or a stretch that a person names (file#t=90,120). The
// file is read once and cut; what a part is called and where it begins is a
// Track with Part set and a Length of 0 where it lasts until the next part.

// inside is what a file says of the parts within it.
type inside struct {
	Sheet    []Track `json:",omitempty"` // by its own cue sheet
	Chapters []Track `json:",omitempty"`
}

// cut makes tracks of a file by the parts, which are in order. What a part does
// not say, the file does.
func cut(file Track, parts []Track) ([]Track, error) {
	for _, p := range parts {
		if p.From >= file.Length {
			return nil, fmt.Errorf("%q begins at %s, but the sound ends at %s", p.Title, clockOf(p.From), clockOf(file.Length))
		}
	}
	var out []Track
	for i, p := range parts {
		end := file.Length
		switch {
		case p.Length > 0:
			end = min(end, p.From+p.Length)
		case i+1 < len(parts):
			end = parts[i+1].From
		}
		if p.From < 0 || end <= p.From {
			return nil, fmt.Errorf("a part from %s to %s", clockOf(p.From), clockOf(end))
		}
		t := file
		t.Title, t.Artist, t.Album, t.Genre, t.Year, t.Number, t.Disc = "", "", "", "", 0, 0, 0
		t.Title, t.Number, t.Notes, t.Chapters = p.Title, p.Number, nil, nil
		setText(&t.Title, file.Title)
		for _, from := range []Track{p, file} {
			setText(&t.Artist, from.Artist)
			setText(&t.Album, from.Album)
			setText(&t.Genre, from.Genre)
			setNumber(&t.Year, from.Year)
			setNumber(&t.Disc, from.Disc)
		}
		if p.From == 0 && end == file.Length { // all of it
			setNumber(&t.Number, file.Number)
			t.Notes, t.Chapters = file.Notes, file.Chapters
		} else {
			t.Part, t.From, t.Length = true, p.From, end-p.From
			t.Samples = scan.Samples(end, t.SampleRate) - scan.Samples(p.From, t.SampleRate)
			if end == file.Length || file.LengthFrom == Estimated {
				t.Notes = file.Notes
			}
		}
		t.Notes = append(t.Notes[:len(t.Notes):len(t.Notes)], p.Notes...)
		out = append(out, t)
	}
	return out, nil
}

// clockOf writes a place in a file as m:ss.ff, to a hundredth.
func clockOf(d time.Duration) string {
	c := d.Round(10*time.Millisecond).Milliseconds() / 10
	return fmt.Sprintf("%d:%02d.%02d", c/6000, c/100%60, c%100)
}

// stretchOf takes the part off a name that ends in one, as album.flac#t=90,120.5;
// ok is false where there is none. A part without an end lasts to the file's.
// ref: W3C Recommendation Media Fragments URI 1.0 (basic), 4.2.1: normal play
// time in seconds, m:ss or h:mm:ss, with decimals.
func stretchOf(name string) (file string, part Track, ok bool) {
	i := strings.LastIndex(name, "#t=")
	if i <= 0 {
		return name, part, false
	}
	from, to, two := strings.Cut(strings.TrimPrefix(name[i+3:], "npt:"), ",")
	part.Part = true
	if from != "" {
		if part.From, ok = playTime(from); !ok {
			return name, Track{}, false
		}
	}
	if two {
		end, ok := playTime(to)
		if !ok || end <= part.From {
			return name, Track{}, false
		}
		part.Length = end - part.From
	} else if from == "" {
		return name, Track{}, false
	}
	return name[:i], part, true
}

// playTime reads a place in a file: like ParseLength, and 0 is one, too.
func playTime(s string) (time.Duration, bool) {
	if strings.Trim(s, "0:.") == "" && strings.Contains(s, "0") {
		return 0, true
	}
	d, err := ParseLength(s)
	return d, err == nil
}

// fragment is the end of a name that stretchOf takes off: t's place in its file.
func (t Track) fragment() string {
	if !t.Part {
		return ""
	}
	return "#t=" + secondsOf(t.From) + "," + secondsOf(t.From+t.Length)
}

// secondsOf writes seconds with as many decimals as it takes.
func secondsOf(d time.Duration) string {
	s := fmt.Sprintf("%d.%09d", d/time.Second, d%time.Second)
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
}
