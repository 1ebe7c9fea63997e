package media_test

import (
	"context"
	"strings"
	"testing"

	"longside/media"
)

// TestListFaults: every faulty line of a typed list is told, with its number,
// and nothing is read of a list that has one.
func TestListFaults(t *testing.T) {
	for name, c := range map[string]struct{ list, want string }{
		"bad lengths":    {"length,artist,title\nsoon,a,b\n3:10,a,b\n3:75,a,b\n", `standard input:2: "soon" standard input:4: "3:75"`},
		"lines":          {"3:10 a - b\nlater\nnever\n", `standard input:2: "later" standard input:3: "never"`},
		"unclosed quote": {"length,artist,title\n3:10,a,\"Blue\n3:20,b,c\n", `standard input:2: a quotation mark is not closed`},
		"no header":      {"artist,title\na,b\n", `standard input:1: "artist,title"`},
		"nothing":        {"# only a remark\n", `standard input: no tracks`},
		"decimal comma":  {"length,artist,title\n3:10,a,b\n3,45,A\n3,45,A,B\n12,30,A\n", `standard input:3: the length "3" before "45" standard input:4: 4 fields standard input:5: the length "12" before "30"`},
		"comma in title": {"length,title\n3:10,Fog, and Bell\n", `standard input:2: 3 fields, where the first line names 2`},
		"after remarks":  {"# a\n\nlength,title\n# b\nlater,a\n", `standard input:5: "later"`},
		"old line ends":  {"length,title\r3:10,a\rlater,b\r", `standard input:3: "later"`},
		"negative":       {"length,title\n-3:10,a\n", `standard input:2: "-3:10"`},
		"a day and more": {"length,title\n24:00:01,a\n", `standard input:2: "24:00:01"`},
	} {
		t.Run(name, func(t *testing.T) {
			tracks, _, err := media.Read(context.Background(), []string{"-"}, media.Options{Stdin: strings.NewReader(c.list)})
			if err == nil || tracks != nil {
				t.Fatal(tracks, err)
			}
			lines := strings.Split(err.Error(), "\n")
			for i, want := range strings.Split(strings.ReplaceAll(c.want, ` standard input:`, "\nstandard input:"), "\n") {
				if i >= len(lines) || !strings.HasPrefix(lines[i], want) {
					t.Errorf("said %q, want line %d to begin with %q", lines, i+1, want)
				}
			}
		})
	}
}
