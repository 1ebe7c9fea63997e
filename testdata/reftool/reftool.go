// Package reftool finds the outside programs that tests compare with.
package reftool

import (
	"os"
	"os/exec"
	"testing"
)

// Need gives the path of an outside program. Where it is missing the test is
// skipped with a line that says so; under CI, which installs them all, it fails.
func Need(t testing.TB, program string) string {
	t.Helper()
	path, err := exec.LookPath(program)
	if err == nil {
		return path
	}
	if os.Getenv("CI") != "" {
		t.Fatalf("%s is not on PATH: .ci/run must install it", program)
	}
	t.Skipf("%s is not on PATH: this comparison is skipped", program)
	return ""
}
