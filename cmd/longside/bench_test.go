package main

import (
	"bytes"
	"io"
	"os/exec"
	"path/filepath"
	"testing"
)

// built is the program as people run it, so that start-up counts.
func built(b *testing.B) string {
	b.Helper()
	bin := filepath.Join(b.TempDir(), "longside")
	if out, err := exec.Command("go", "build", "-o", bin, ".").CombinedOutput(); err != nil {
		b.Fatalf("%v: %s", err, out)
	}
	return bin
}

func benchProcess(b *testing.B, want int, args ...string) {
	bin := built(b)
	for b.Loop() {
		c := exec.Command(bin, args...)
		c.Stdout, c.Stderr = io.Discard, io.Discard
		c.Run()
		if got := c.ProcessState.ExitCode(); got != want {
			b.Fatalf("exit status %d, want %d", got, want)
		}
	}
}

// BenchmarkHelp is the start-up of the whole program.
func BenchmarkHelp(b *testing.B) { benchProcess(b, exitDone, "--help") }

// BenchmarkCheckDemo reads the demo's 18 files and proves its sides.
func BenchmarkCheckDemo(b *testing.B) {
	benchProcess(b, exitDone, "check", demo, "--tape", "C60")
}

// BenchmarkPlanDemo is the main job as a whole process: read, fit, draw both
// PDFs and write all four files.
func BenchmarkPlanDemo(b *testing.B) {
	benchProcess(b, exitDone, "plan", demo, "--tape", "C60", "--out", b.TempDir(), "--force")
}

// BenchmarkPlanDemoInProcess is the same without starting a process.
func BenchmarkPlanDemoInProcess(b *testing.B) {
	out := b.TempDir()
	for b.Loop() {
		var errs bytes.Buffer
		s := &streams{in: bytes.NewReader(nil), out: io.Discard, err: &errs, width: 80}
		if got := run([]string{"plan", demo, "--tape", "C60", "--out", out, "--force"}, s); got != exitDone {
			b.Fatalf("exit status %d: %s", got, errs.String())
		}
	}
}

// demo is the invented mixtape of the repository.
const demo = "../../testdata/night-ferry"
