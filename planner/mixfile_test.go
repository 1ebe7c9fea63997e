package planner

import (
	"strings"
	"testing"
	"time"
)

const ferryMix = `format = "longside mix"
version = 1
title = "Night Ferry"
order = "near"
gap = "3s"
apart = 2
arc = { A = "rising", B = "falling" }

[[track]]
from = "01 Lights.mp3"
opens = "mix"

[[track]]
title = "Harbour Radio, 5 May"
length = "12:30"
side = "b"
gap = "-2s"
fade = "8s"
reserve = 1
join = true
drive = 7.5
not_thin = true
`

func TestParseMix(t *testing.T) {
	m, err := ParseMix([]byte(ferryMix))
	if err != nil {
		t.Fatal(err)
	}
	if m.Title != "Night Ferry" || m.Order != "near" || m.Apart != 2 || m.Arc["B"] != "falling" || len(m.Tracks) != 2 {
		t.Errorf("read %+v", m)
	}
	if w, err := m.Tracks[0].Wish(); err != nil || w.Opens != OfMix {
		t.Errorf("wish %+v, %v", w, err)
	}
	w, err := m.Tracks[1].Wish()
	if err != nil || w.Side != "B" || w.Gap.D() != -2*time.Second || w.Fade.D() != 8*time.Second || w.Reserve != 1 || !w.Join || *w.Drive != 7.5 || !w.NotThin {
		t.Errorf("wish %+v, %v", w, err)
	}
}

func TestParseMixRefuses(t *testing.T) {
	head := "format = \"longside mix\"\nversion = 1\n"
	for name, c := range map[string]struct{ text, says string }{
		"empty":      {"", "not a mix file"},
		"other":      {"a = 1", `line 1: nothing is called "a" here`},
		"newer":      {"format = \"longside mix\"\nversion = 3\n", "newer longside"},
		"no version": {"format = \"longside mix\"\n", "no version"},
		"no track":   {head, "no track"},
		"misspelt":   {head + "[[track]]\nfrom = \"a\"\nopnes = \"mix\"\n", `line 5: nothing is called "track.opnes" here`},
		"broken":     {head + "title = \n", "line 3, column"},
		"wrong kind": {head + "apart = \"two\"\n", "line 3, column"},
		"neither":    {head + "[[track]]\ntitle = \"x\"\n", "track 1: give from"},
		"both":       {head + "[[track]]\nfrom = \"a\"\ntitle = \"x\"\nlength = \"1:00\"\n", "track 1: give from"},
		"side":       {head + "[[track]]\nfrom = \"a\"\nside = \"C\"\n", "write A or B"},
		"drive":      {head + "[[track]]\nfrom = \"a\"\ndrive = nan\n", "write 0 to 10"},
		"gap":        {head + "[[track]]\nfrom = \"a\"\ngap = \"long\"\n", "gap \"long\""},
		"binary":     {"\x00\xff\xfe", "line 1"},
	} {
		if _, err := ParseMix([]byte(c.text)); err == nil || !strings.Contains(err.Error(), c.says) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: error %v, want one line with %q", name, err, c.says)
		}
	}
}

// FuzzParseMix: a mix that is read has tracks, each with wishes that can be read.
func FuzzParseMix(f *testing.F) {
	f.Add([]byte(ferryMix))
	f.Fuzz(func(t *testing.T, data []byte) {
		m, err := ParseMix(data)
		if err != nil {
			if strings.Contains(err.Error(), "\n") {
				t.Errorf("the error takes more than one line: %q", err)
			}
			return
		}
		if len(m.Tracks) == 0 {
			t.Error("a mix without tracks is read")
		}
		for _, e := range m.Tracks {
			if _, err := e.Wish(); err != nil {
				t.Errorf("a wish of a mix that was read: %v", err)
			}
		}
	})
}
