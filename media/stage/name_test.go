package stage

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestName(t *testing.T) {
	for text, want := range map[string]string{
		"side-A.wav": "side-A.wav", "Brume légère": "Brume légère", "a/b": "a_b", `..\..\x`: "_.._x", "/../../escaped": "_.._.._escaped",
		"..": "_", ".": "_", "": "_", ".hidden": "hidden", "-rf": "rf", "NUL": "_NUL", "nul.wav": "_nul.wav", "com1": "_com1", "COMET": "COMET",
		"a\nb": "a_b", "a\x1b[31mb": "a_[31mb", "a\x00b": "a_b", "a\xffb": "a_b", "a\u202eb": "a_b", "x. ": "x", "C:x": "C_x", "a*?": "a__",
	} {
		if got := Name(text); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}

// FuzzName: whatever the text, the name is one file of the folder, and naming
// twice changes nothing.
func FuzzName(f *testing.F) {
	for _, s := range []string{"side-A", "/../../x", "NUL", strings.Repeat("é", 300)} {
		f.Add(s)
	}
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, text string) {
		n := Name(text)
		if filepath.Base(n) != n || !filepath.IsLocal(n) || len(n) > 255-5 || strings.ContainsAny(n, "/\\\x00\n\x1b") {
			t.Fatalf("%q gives %q", text, n)
		}
		if again := Name(n); again != n {
			t.Errorf("%q gives %q, and that %q", text, n, again)
		}
		if err := os.WriteFile(filepath.Join(dir, n), nil, 0o600); err != nil {
			t.Errorf("%q: %v", n, err)
		}
		os.Remove(filepath.Join(dir, n))
	})
}
