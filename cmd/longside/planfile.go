package main

import (
	"fmt"
	"os"
	"path/filepath"

	"longside/planner"
)

// loadPlan reads a plan file, or the plan.json of a folder, with the tracks'
// paths made whole.
func loadPlan(path string) (planner.Plan, error) {
	if st, err := os.Stat(path); err == nil && st.IsDir() {
		path = filepath.Join(path, planName)
	}
	data, err := readBounded(path, planner.MaxFile)
	if err != nil {
		return planner.Plan{}, err
	}
	p, err := planner.Decode(data)
	if err != nil {
		return p, fmt.Errorf("%s: %w", path, err)
	}
	dir, err := filepath.Abs(filepath.Dir(path))
	if err != nil {
		return p, err
	}
	return p.WithPaths(func(f string) string {
		f = filepath.FromSlash(f)
		if filepath.IsAbs(f) {
			return f
		}
		return filepath.Join(dir, f)
	}), nil
}
