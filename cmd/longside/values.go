package main

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
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
	d, err := parseTime(s, v.unit)
	if err == nil {
		*v.d = d
	}
	return err
}

// maxTime bounds a typed time; no tape and no record is as long.
const maxTime = 100 * time.Hour

// parseTime reads m:ss, h:mm:ss, a number in the unit given, or 1m30s.
func parseTime(s string, unit time.Duration) (time.Duration, error) {
	bad := errors.New("write a time as 4s, 1:30 or 90")
	text, neg := strings.CutPrefix(strings.TrimSpace(s), "-")
	var d time.Duration
	if parts := strings.Split(text, ":"); len(parts) > 1 && len(parts) <= 3 {
		var sec float64
		for i, p := range parts {
			f, err := strconv.ParseFloat(p, 64)
			last := i == len(parts)-1
			if err != nil || f < 0 || i > 0 && f >= 60 || !last && f != math.Trunc(f) || strings.ContainsAny(p, "eExXpP_+-") {
				return 0, bad
			}
			sec = sec*60 + f
		}
		if sec > maxTime.Seconds() {
			return 0, bad
		}
		d = time.Duration(math.Round(sec * float64(time.Second)))
	} else if f, err := strconv.ParseFloat(text, 64); err == nil {
		if !(f >= 0 && f*unit.Seconds() <= maxTime.Seconds()) {
			return 0, bad
		}
		d = time.Duration(math.Round(f * float64(unit)))
	} else if d, err = time.ParseDuration(text); err != nil || d < 0 || d > maxTime {
		return 0, bad
	}
	if neg {
		d = -d
	}
	return d, nil
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
	text string
	kind string
	set  func(string) error
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

// oneOf is a flag that takes one of a few words.
func oneOf(p *string, words ...string) *parsedValue {
	return &parsedValue{text: *p, kind: strings.Join(words, "|"), set: func(s string) error {
		for _, w := range words {
			if strings.EqualFold(w, s) {
				*p = w
				return nil
			}
		}
		return fmt.Errorf("write %s or %s", strings.Join(words[:len(words)-1], ", "), words[len(words)-1])
	}}
}
