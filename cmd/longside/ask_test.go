package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"longside/planner/tape"
)

// talk runs a command as at a terminal, where a person types the answers.
func talk(answers string, args ...string) (status int, out, questions string) {
	var o, e bytes.Buffer
	status = run(args, &streams{in: strings.NewReader(answers), out: &o, err: &e, width: 80, ask: true})
	return status, o.String(), e.String()
}

func TestDeckByAsking(t *testing.T) {
	file := filepath.Join(t.TempDir(), "galley.toml")
	// A wrong answer is told and asked again; an empty one skips.
	answers := strings.Join([]string{
		"galley deck", "3150=31", "3150=3165", "turns", "", "4", "3", "both hubs", "y", "1.5",
		"b, c", "200", "y", "n", "C90@10:00=174", "C90@40:00=300", "C60@25:00=337", "",
	}, "\n") + "\n"
	status, out, questions := talk(answers, "deck", "make", file)
	if status != 0 {
		t.Fatalf("status %d: %s", status, questions)
	}
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	d, err := tape.ParseDeck(data)
	if err != nil {
		t.Fatal(err)
	}
	if d.Name != "galley deck" || d.Heads != 3 || d.AutoStop != tape.StopBothHubs || !d.AutoReverse || d.TurnRound.Seconds() != 1.5 ||
		strings.Join(d.Noise, "") != "BC" || d.MeterZero != 200 || !d.LevelControl || d.BiasControl || d.LongestTape != "" || d.Counting != tape.CountsTurns {
		t.Errorf("%+v", d)
	}
	// 15/3150 = 0.476 %; both readings are about half a count a turn.
	if d.SpeedError < 0.0047 || d.SpeedError > 0.0048 || d.Ratio < 0.48 || d.Ratio > 0.52 {
		t.Errorf("speed %g, ratio %g", d.SpeedError, d.Ratio)
	}
	for _, says := range []string{"is it the other tone?", "4 heads", "contradict each other"} {
		if !strings.Contains(questions, says) {
			t.Errorf("the questions never say %q:\n%s", says, questions)
		}
	}
	if strings.Contains(questions, "known length") {
		t.Error("asked for a timed length although the tone was given")
	}
	if !strings.Contains(out, "C60 25:00: read 337") {
		t.Errorf("no residuals in %q", out)
	}

	// What a flag said is not asked; answers that end too early write nothing.
	half := filepath.Join(t.TempDir(), "half.toml")
	status, _, questions = talk("bridge\n", "deck", "make", half, "--heads", "2")
	if _, err := os.Stat(half); status != exitWrong || err == nil || strings.Contains(questions, "Heads") || !strings.Contains(questions, "ended before") {
		t.Errorf("status %d, file %v: %s", status, err, questions)
	}
	// Told before the questions, not after them.
	if status, _, questions = talk("", "deck", "make", file); status != exitWrong || !strings.Contains(questions, "--force") || strings.Contains(questions, "Your own word") {
		t.Errorf("status %d: %s", status, questions)
	}
}

func TestMeasureByAsking(t *testing.T) {
	// Ten turns of a full C60 of 18 um take 32.5 s, twenty of a bare hub of 11 mm 29.3 s.
	answers := "C60\n29.3\nthirty\n32.5\n\n10:00=163\n30:00=382\n\n30:00\n"
	status, out, questions := talk(answers, "tape", "measure")
	if status != 0 {
		t.Fatalf("status %d: %s", status, questions)
	}
	for _, says := range []string{"thickness   18.0 um", "The other readings agree", "85.7 m +-"} {
		if !strings.Contains(out, says) {
			t.Errorf("does not say %q:\n%s", says, out)
		}
	}
	if !strings.Contains(questions, "write the seconds") {
		t.Errorf("a wrong answer was taken: %s", questions)
	}
}
