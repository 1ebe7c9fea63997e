package planner

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
)

// MaxFile is the largest plan file that is read, in bytes: ten thousand tracks
// with long names come to a tenth of it.
const MaxFile = 64 << 20

// Encode writes the plan file: indented JSON, UTF-8, a final newline.
func Encode(p Plan) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	err := e.Encode(p)
	return b.Bytes(), err
}

// Decode reads a plan file. It refuses what is no plan, what a newer longside
// wrote, and figures that no tape could have; the error is one line that says
// which, without the file's name.
func Decode(data []byte) (Plan, error) {
	var head struct {
		Format  string `json:"format"`
		Version int    `json:"version"`
	}
	if err := json.Unmarshal(data, &head); err != nil {
		return Plan{}, fmt.Errorf("not a plan file (%w); give the plan.json that longside plan wrote", err)
	}
	if head.Format != Format {
		return Plan{}, errors.New("not a plan file; give the plan.json that longside plan wrote")
	}
	if head.Version > Version {
		return Plan{}, fmt.Errorf("plan of version %d, written by a newer longside; this one reads up to version %d", head.Version, Version)
	}
	if head.Version < 1 {
		return Plan{}, fmt.Errorf("plan of version %d: there is none such", head.Version)
	}
	var p Plan
	if err := json.Unmarshal(data, &p); err != nil {
		return Plan{}, fmt.Errorf("damaged plan file (%w); plan anew", err)
	}
	if err := p.check(); err != nil {
		return Plan{}, fmt.Errorf("damaged plan file (%w); plan anew", err)
	}
	if err := p.checkLaid(); err != nil {
		return Plan{}, fmt.Errorf("damaged plan file (%w); plan anew", err)
	}
	return p, nil
}

// check refuses figures that no tape could have, so that whoever draws a plan
// need not ask again.
func (p Plan) check() error {
	in := func(v, lo, hi float64) bool { return v >= lo && v <= hi && !math.IsInf(v, 0) }
	for _, t := range p.tracks() {
		if err := t.Level.check(); err != nil {
			return fmt.Errorf("%q: %w", t.Title, err)
		}
	}
	for i, t := range p.Tapes {
		switch {
		case !in(t.ThicknessUM, 1, 100):
			return fmt.Errorf("tape %d: thickness of %g um", i+1, t.ThicknessUM)
		case !in(t.LengthM, 0.1, 2000):
			return fmt.Errorf("tape %d: length of %g m", i+1, t.LengthM)
		case !in(t.HubMM, 1, 50) || !in(t.FullMM, t.HubMM, 200):
			return fmt.Errorf("tape %d: hub of %g mm, full pack of %g mm", i+1, t.HubMM, t.FullMM)
		case len(t.Sides) > 2:
			return fmt.Errorf("tape %d: %d sides", i+1, len(t.Sides))
		}
		for _, s := range t.Sides {
			if s.UsableS < 0 || s.RunS < 0 || s.ThinFromS < 0 {
				return fmt.Errorf("tape %d side %s: a negative time", i+1, s.Side)
			}
			for k, t := range s.Tracks {
				if t.StartS < 0 || t.LengthS < 0 {
					return fmt.Errorf("tape %d side %s: track %d has a negative time", i+1, s.Side, k+1)
				}
				if k > 0 && t.StartS < s.Tracks[k-1].StartS {
					return fmt.Errorf("tape %d side %s: track %d starts before track %d", i+1, s.Side, k+1, k)
				}
			}
		}
	}
	return nil
}

// WithPaths is p with f applied to the path of each track that has one.
func (p Plan) WithPaths(f func(string) string) Plan {
	on := func(ts []Track) []Track {
		out := make([]Track, len(ts))
		for i, t := range ts {
			if t.Path != "" {
				t.Path = f(t.Path)
			}
			out[i] = t
		}
		return out
	}
	tapes := make([]Tape, len(p.Tapes))
	for i, t := range p.Tapes {
		sides := make([]Side, len(t.Sides))
		for j, s := range t.Sides {
			s.Tracks = on(s.Tracks)
			sides[j] = s
		}
		t.Sides = sides
		tapes[i] = t
	}
	p.Tapes, p.LeftOut = tapes, on(p.LeftOut)
	return p
}
