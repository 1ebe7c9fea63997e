package paper

import (
	"bufio"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/text/unicode/bidi"
)

// TestBidiConformance runs the Unicode consortium's own BidiCharacterTest.txt,
// which the shaping library carries in its module: for each line that has no
// explicit embedding, override or isolate (Clean takes these out, with tabs),
// levels and order must be those of the file.
func TestBidiConformance(t *testing.T) {
	dir, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/go-text/typesetting").Output()
	if err != nil {
		t.Fatal(err)
	}
	f, err := os.Open(filepath.Join(strings.TrimSpace(string(dir)), "bidi", "test", "BidiCharacterTest.txt"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	tried := 0
	s := bufio.NewScanner(f)
	for n := 1; s.Scan(); n++ {
		fields := strings.Split(s.Text(), ";")
		if strings.HasPrefix(s.Text(), "#") || len(fields) != 5 {
			continue
		}
		var text []rune
		explicit := false
		for _, h := range strings.Fields(fields[0]) {
			v, err := strconv.ParseUint(h, 16, 32)
			if err != nil {
				t.Fatal(err)
			}
			p, _ := bidi.LookupRune(rune(v))
			switch p.Class() {
			case bidi.Control, bidi.B, bidi.S, bidi.BN, bidi.LRE, bidi.RLE, bidi.LRO, bidi.RLO, bidi.PDF, bidi.LRI, bidi.RLI, bidi.FSI, bidi.PDI:
				explicit = true
			}
			text = append(text, rune(v))
		}
		if explicit {
			continue
		}
		tried++
		// 0 and 1 ask for a direction, 2 for that of the first strong letter.
		var lv []uint8
		var base uint8
		switch fields[1] {
		case "0":
			lv = resolve(text, 0)
		case "1":
			lv, base = resolve(text, 1), 1
		default:
			lv, base = levels(text)
		}
		if got := strconv.Itoa(int(base)); got != fields[2] {
			t.Errorf("line %d: base level %s, want %s", n, got, fields[2])
		}
		var got []string
		for _, l := range lv {
			got = append(got, strconv.Itoa(int(l)))
		}
		if want := strings.Fields(fields[3]); !slices.Equal(got, want) {
			t.Errorf("line %d: levels of %q are %v, want %v", n, string(text), got, want)
		}
		got = nil
		for _, sp := range visual(lv) {
			var part []string
			for i := sp.start; i < sp.end; i++ {
				part = append(part, strconv.Itoa(i))
			}
			if sp.level%2 == 1 {
				slices.Reverse(part)
			}
			got = append(got, part...)
		}
		if want := strings.Fields(fields[4]); !slices.Equal(got, want) {
			t.Errorf("line %d: order of %q is %v, want %v", n, string(text), got, want)
		}
	}
	if err := s.Err(); err != nil {
		t.Fatal(err)
	}
	if tried < 1000 {
		t.Fatalf("only %d lines were tried", tried)
	}
	t.Logf("%d lines", tried)
}
