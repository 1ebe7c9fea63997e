package tape

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/pelletier/go-toml/v2"
)

// handwritten is a form with all that ours have: values, pointers, tables in a
// list, a map.
type handwritten struct {
	Format string            `toml:"format"`
	Arc    map[string]string `toml:"arc"`
	Deck   struct {
		Speed float64 `toml:"speed"`
	} `toml:"deck"`
	Tracks []struct {
		Title string   `toml:"title"`
		Drive *float64 `toml:"drive"`
		Reads []struct {
			At int `toml:"at"`
		} `toml:"read"`
	} `toml:"track"`
}

// TestTOMLKnows: what the library finds unknown, CheckTOML finds too, and nothing
// else: each text is given so often that it must refuse, or must not.
func TestTOMLKnows(t *testing.T) {
	for _, c := range []string{
		"format = 'x'", "FORMAT = 'x'", "formal = 'x'", "'format' = 'x'", `"form\u0061t" = 'x'`,
		"arc.a = 'level'", "arc.b.c = 'level'", "arc = { a = 'level', b = 'hill' }",
		"[deck]\nspeed = 1.5", "[deck]\nspeed = 1.5\nformat = 'x'", "deck.speed = 2", "deck.format = 'x'", "[deck.more]\nspeed = 1",
		"[[track]]\ntitle = 'a = b'\ndrive = 5.5\n[[track.read]]\nat = 1", "[[track]]\nformat = 'x'", "[[track]]\n[[track.read]]\ntitle = 'a'",
		"track = [{ title = 'a', read = [{ at = 1 }, { at = 2 }] }, { drive = 1 }]", "track = [{ title = 'a' }, { titel = 'b' }]", "track = [\n{ title = 'a' },\n[ ],\n]",
		"# other = 1\nformat = '''\nother = 1\n'''", "format = \"\"\"\nother = \\\" 1\n[other]\n\"\"\"", "[other]\nspeed = 1", "1.5 = 2", "x = [1, 2,\n3]",
	} {
		var form handwritten
		err := toml.NewDecoder(strings.NewReader(c)).DisallowUnknownFields().Decode(&form)
		_, wantFault := err.(*toml.StrictMissingError)
		if err != nil && !wantFault {
			continue // no TOML, or of the wrong kind: the decoder's to say
		}
		// The same text many times over would be a key twice: only its keys are looked at.
		got := CheckTOML([]byte(strings.Repeat(c+"\n", mostUnknown+2)), form, 1000)
		if (got != nil) != wantFault && c != `"form\u0061t" = 'x'` {
			t.Errorf("%q: %v; the library: %v", c, got, err)
		}
	}
}

// TestTOMLBounds: what would take the decoder minutes or gigabytes is refused at once.
func TestTOMLBounds(t *testing.T) {
	for name, c := range map[string]struct{ text, says string }{
		"tables":          {strings.Repeat("[[track]]\n", 2000), "line 1006: more than 1000 tables"},
		"inline tables":   {"track = [" + strings.Repeat("{},", 3000) + "]", "more than 1000 tables"},
		"nested":          {"x = " + strings.Repeat("[", 3000), "more than 1000 tables"},
		"nested tables":   {"track = " + strings.Repeat("{a=", 3), ""},
		"values":          {"x = [" + strings.Repeat("1,", mostTOMLValues+1) + "]", "values"},
		"dots":            {strings.Repeat("format.", mostTOMLValues+1) + "x = 1", "values"},
		"unknown":         {"\n" + strings.Repeat("a = 1\n", 100), `line 2: nothing is called "a" here`},
		"unknown, dotted": {strings.Repeat("a.format = 1\n", 100), `line 1: nothing is called "a.format" here`},
		"unknown here":    {"#\n" + strings.Repeat("[[track]]\nformat = 1\n", 900), `line 3: nothing is called "format" here`},
		"unknown inline":  {"arc = {" + strings.Repeat("a = {b = 1},", 100), "nothing is called"},
		"never closed":    {strings.Repeat("\"\"\"\n", 1001), ""},
		"enough":          {strings.Repeat("[[track]]\ntitle = 'a'\n", 1000), ""},
	} {
		begin := time.Now()
		err := CheckTOML([]byte(c.text), handwritten{}, 1000)
		if (err == nil) != (c.says == "") || err != nil && !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want %q", name, err, c.says)
		}
		if took := time.Since(begin); took > 2*time.Second {
			t.Errorf("%s: took %v", name, took)
		}
	}
}

// FuzzCheckTOML: a file that the strict decoder takes is not refused for unknown
// keys; of one that it refuses for many, at most a few get through to it.
func FuzzCheckTOML(f *testing.F) {
	f.Add("format = 'x'\n[[track]]\ntitle = \"a\"\nread = [{at = 1}]\n")
	f.Add("arc.a = '''x'''\n[deck]\nspeed = 1.5 # x\n")
	f.Add("track = [{ title = 'a' },\n[ ]]")
	f.Fuzz(func(t *testing.T, text string) {
		var form handwritten
		err := toml.NewDecoder(strings.NewReader(text)).DisallowUnknownFields().Decode(&form)
		got := CheckTOML([]byte(text), form, 10_000)
		if err == nil && got != nil {
			t.Fatalf("%q: %v", text, got)
		}
		if strict, ok := err.(*toml.StrictMissingError); ok && got == nil {
			lines := map[string]bool{}
			for _, e := range strict.Errors {
				row, _ := e.Position()
				lines[fmt.Sprint(row, e.Key())] = true
			}
			if len(lines) > 20*mostUnknown {
				t.Fatalf("%d unknown keys get through in %q", len(lines), text)
			}
		}
	})
}
