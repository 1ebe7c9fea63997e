package main

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"longside/planner"
)

// timeValue is a flag that takes a length of time: 4s, 4, 1:30, 1m30s; a
// negative one where it makes sense. A number alone is in the flag's own unit.
type timeValue struct {
	d    *time.Duration
	unit time.Duration // of a number alone
}

func (v timeValue) String() string {
	if v.d == nil || *v.d == 0 {
		return "0"
	}
	return v.d.String()
}
func (v timeValue) Type() string { return "time" }
func (v timeValue) Set(s string) error {
	d, err := planner.ParseTime(s, v.unit)
	if err == nil {
		*v.d = d
	}
	return err
}

// percentValue is a flag that takes a percentage, with or without its sign,
// and keeps a fraction.
type percentValue struct{ f *float64 }

func (v percentValue) String() string {
	if v.f == nil {
		return ""
	}
	return strconv.FormatFloat(*v.f*100, 'g', 6, 64) + "%"
}
func (v percentValue) Type() string { return "percent" }
func (v percentValue) Set(s string) error {
	text := strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(s), "%"))
	f, err := strconv.ParseFloat(strings.Replace(text, "\u2212", "-", 1), 64)
	if err != nil || math.IsNaN(f) || math.IsInf(f, 0) {
		return errors.New("write a percentage, as 1.5 or -0.8%")
	}
	*v.f = f / 100
	return nil
}

// parsedValue is a flag that a function reads; the text stays as it was typed.
type parsedValue struct {
	text  string
	kind  string
	words []string // all that it may be, for completion; nil: too many to list
	set   func(string) error
}

func (v *parsedValue) String() string { return v.text }
func (v *parsedValue) Type() string   { return v.kind }
func (v *parsedValue) Set(s string) error {
	if err := v.set(s); err != nil {
		return err
	}
	v.text = s
	return nil
}

// oneOf is a flag that takes one of a few words, whatever their case.
func oneOf(p *string, words ...string) *parsedValue {
	v := among(*p, strings.Join(words, "|"), nil)
	v.set = func(s string) error {
		for _, w := range words {
			if strings.EqualFold(w, s) {
				*p = w
				return nil
			}
		}
		return fmt.Errorf("write %s or %s", strings.Join(words[:len(words)-1], ", "), words[len(words)-1])
	}
	return v
}

// among is a flag that takes one of a|b|c and is read by set.
func among(text, words string, set func(string) error) *parsedValue {
	return &parsedValue{text: text, kind: words, words: strings.Split(words, "|"), set: set}
}

// thinkValue is a time to search, which is not negative.
type thinkValue struct{ timeValue }

func (v thinkValue) Set(s string) error {
	before := *v.d
	err := v.timeValue.Set(s)
	if err == nil && *v.d < 0 {
		*v.d = before
		err = errors.New("write a time of 0 or more, as 10s")
	}
	return err
}

// noiseReductions are the kinds that the trade tells apart by a letter: B and C
// of the decks, S of the last ones (from memory, unverified).
var noiseReductions = []string{"none", "B", "C", "S"}
