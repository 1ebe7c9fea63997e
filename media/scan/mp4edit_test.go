package scan

import (
	"bytes"
	"errors"
	"strings"
	"testing"
)

// checkM4A holds both readings of a file by hand to a length and to notes.
func checkM4A(t *testing.T, what string, m m4a, want int64, rate int, notes ...string) {
	t.Helper()
	b := m.bytes()
	for _, scan := range []func(*bytes.Reader, int64) (Info, error){quick, walked1} {
		info, err := scan(bytes.NewReader(b), int64(len(b)))
		if err != nil || info.Samples != want || info.Rate != rate {
			t.Errorf("%s: %d samples at %d Hz, %v; want %d at %d", what, info.Samples, info.Rate, err, want, rate)
		}
		if len(info.Notes) != len(notes) {
			t.Errorf("%s: notes %q, want %q", what, info.Notes, notes)
			continue
		}
		for i, n := range notes {
			if !strings.Contains(info.Notes[i], n) {
				t.Errorf("%s: note %q, want %q", what, info.Notes[i], n)
			}
		}
	}
}

// ISO/IEC 14496-12 8.6.6: durations in the movie's time, media times in the track's.
func TestM4AEdits(t *testing.T) {
	const whole = 99*4096 + 1000 // 406504 samples, 9.218 s
	base := m4a{packets: 100, delta: 4096, last: 1000, timescale: 44100, rate: 44100, movie: 1000}
	for _, c := range []struct {
		what  string
		movie int
		edits []int
		want  int64
		notes []string
	}{
		{"the whole", 1000, []int{9218, 0}, whole, nil},
		{"the whole but the delay", 1000, []int{9170, 2112}, whole - 2112, nil},
		{"short by less than two packets", 1000, []int{9050, 0}, whole, nil},
		{"of no length: to the end", 1000, []int{0, 2112}, whole - 2112, nil},
		{"longer than the sound", 1000, []int{20000, 2112}, whole - 2112, nil},
		{"three seconds", 1000, []int{3000, 2112}, 3 * 44100, []string{"plays 0:03 of its 0:09"}},
		{"three seconds by a fine clock", 88200, []int{3 * 88200, 0}, 3 * 44100, []string{"plays 0:03"}},
		{"a fine clock tells the padding", 44100, []int{whole - 2112 - 700, 2112}, whole - 2112 - 700, nil},
		{"two parts", 1000, []int{2000, 2112, 1000, 88200}, 3 * 44100, []string{"in 2 parts, as its edit list says: 0:03 of its 0:09"}},
		{"two parts that join", 1000, []int{2000, 0, 7218, 88200}, whole, []string{"is played in 2 parts, as its edit list says"}},
		{"a part twice", 1000, []int{6000, 0, 6000, 0}, 12 * 44100, []string{"0:12 of its 0:09"}},
		{"two parts, the second past the end", 1000, []int{2000, 0, 9000, whole - 500}, 2*44100 + 500, []string{"in 2 parts"}},
		{"silence in front", 1000, []int{2500, -1, 9170, 2112}, whole - 2112, []string{"adds 2.500 s of silence"}},
		{"no movie header: the durations tell nothing", 0, []int{3000, 2112, 1, 4}, whole - 2112, nil},
	} {
		m := base
		m.movie, m.edits = c.movie, c.edits
		checkM4A(t, c.what, m, c.want, 44100, c.notes...)
	}
	m := base
	m.edits = []int{9218, -1}
	b := m.bytes()
	if _, err := quick(bytes.NewReader(b), int64(len(b))); !errors.Is(err, ErrNoSound) || !strings.Contains(err.Error(), "only 9.218 s of silence") {
		t.Errorf("silence only: %v", err)
	}
	// A list that plays the sound over and over, past all reason, is refused.
	m = base
	m.delta, m.edits = 60000, make([]int, 20000)
	b = m.bytes()
	if _, err := quick(bytes.NewReader(b), int64(len(b))); err == nil || !strings.Contains(err.Error(), "more sound than") {
		t.Errorf("2000 edits: %v", err)
	}
}
