package planner

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
)

// MaxFile is the largest plan file that is read, in bytes: ten thousand tracks
// with long names come to a third of it.
const MaxFile = 32 << 20

// Encode writes the plan file: indented JSON, UTF-8, a final newline. A plan
// that Decode would refuse is not written.
func Encode(p Plan) ([]byte, error) {
	if err := p.check(); err != nil {
		return nil, fmt.Errorf("this plan could not be read again: %w", err)
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	err := e.Encode(p.carried())
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
	err := shaped(data, p)
	if err == nil {
		err = json.Unmarshal(data, &p)
	}
	if err == nil {
		p, err = p.restored()
	}
	if err == nil {
		err = p.check()
	}
	if err != nil {
		// A time that is none is quoted by its parser, however long it is.
		why := err.Error()
		if len(why) > 200 {
			why = why[:200] + "..."
		}
		return Plan{}, fmt.Errorf("damaged plan file (%s); plan anew", strings.ToValidUTF8(why, ""))
	}
	return p, nil
}

// WithPaths is p with f applied to the path of each track that has one.
func (p Plan) WithPaths(f func(string) string) Plan {
	return p.withTracks(func(t Track) Track {
		if t.Path != "" {
			t.Path = f(t.Path)
		}
		return t
	})
}

// withTracks is p with f applied to each track, placed or left out.
func (p Plan) withTracks(f func(Track) Track) Plan {
	on := func(ts []Track) []Track {
		out := make([]Track, len(ts))
		for i, t := range ts {
			out[i] = f(t)
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
