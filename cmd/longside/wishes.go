package main

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"longside/planner"
)

// wishFlags are the rules of a mix as flags; a mix file says the same for good.
type wishFlags struct {
	openers     []string // one; all are kept, so that two can be refused
	closers     []string
	sideOpeners []string
	sideClosers []string
	gaps        []string // NAME=2s
	sides       []string // A=NAME
	joins       []string // NAME, to the next
	musts       []string
	reserves    []string // in the order of their rank
	notThin     []string
	rugged      []string
	fades       []string // NAME=8s
	splits      []string // NAME=26:05
	drives      []string // NAME=7
	apart       int
	arcs        []string // A=rising
}

func (w *wishFlags) add(fl *pflag.FlagSet) {
	fl.StringArrayVar(&w.openers, "opener", nil, "`NAME` opens the tape")
	fl.StringArrayVar(&w.closers, "closer", nil, "`NAME` closes the tape")
	fl.StringArrayVar(&w.sideOpeners, "side-opener", nil, "`NAME` opens the side that it is on")
	fl.StringArrayVar(&w.sideClosers, "side-closer", nil, "`NAME` closes the side that it is on")
	fl.StringArrayVar(&w.gaps, "gap-after", nil, "`NAME=2s`: the silence after it, 0 or an overlap as -3s")
	fl.StringArrayVar(&w.sides, "side", nil, "`A=NAME`: must be on this side; 2B is of the second tape")
	fl.StringArrayVar(&w.joins, "join", nil, "`NAME` is joined to the next, with no gap and never split; auto: all tracks of an album that run on into the next (needs --levels)")
	fl.IntVar(&w.apart, "apart", 0, "tracks between two of the same artist, at the least")
	fl.StringArrayVar(&w.musts, "must", nil, "`NAME` is never left out")
	fl.StringArrayVar(&w.reserves, "reserve", nil, "`NAME` only fills spare time; the first named is used first")
	fl.StringArrayVar(&w.notThin, "not-thin", nil, "`NAME` must not lie on the thin tail")
	fl.StringArrayVar(&w.rugged, "rugged", nil, "`NAME` can bear the thin tail (--thin-tail rugged)")
	fl.StringArrayVar(&w.fades, "fade", nil, "`NAME=8s`: may be faded early by so much, as the last resort")
	fl.StringArrayVar(&w.splits, "split", nil, "`NAME=26:05`: a long piece is split there, over two sides")
	fl.StringArrayVar(&w.drives, "drive", nil, "`NAME=7`: how much it drives, 0 to 10, for --arc")
	fl.StringArrayVar(&w.arcs, "arc", nil, "`A=rising`: running order of a side by drive: level, rising, falling, hill or valley (--order free)")
}

// joinAuto in the place of a name joins what runs on.
const joinAuto = "auto"

// set puts the flags on the items that they name.
func (w *wishFlags) set(r *planner.Request) error {
	on := func(flag, name string, f func(*planner.Wish)) error {
		i, err := r.Mix.Find(name)
		if err != nil {
			return fmt.Errorf("--%s: %w", flag, err)
		}
		f(&r.Mix.Items[i].Wish)
		return nil
	}
	// once refuses two flags that say different things of one place: the later
	// would overrule the earlier in silence.
	type said struct{ text, value string }
	before := map[string]said{}
	once := func(flag, text, place, value string) error {
		key := flag + " " + place
		if b, ok := before[key]; ok && b.value != value {
			return fmt.Errorf("--%s %q and --%s %q cannot both be kept: drop one of them", flag, b.text, flag, text)
		}
		before[key] = said{text, value}
		return nil
	}
	// oncePer is once for each track.
	oncePer := func(flag, text, name, value string, f func(*planner.Wish)) error {
		i, err := r.Mix.Find(name)
		if err != nil {
			return fmt.Errorf("--%s: %w", flag, err)
		}
		f(&r.Mix.Items[i].Wish)
		return once(flag, text, strconv.Itoa(i), value)
	}
	// ofMix is a wish that only one track can have.
	ofMix := func(flag string, names []string, f func(*planner.Wish)) error {
		for _, s := range names {
			i, err := r.Mix.Find(s)
			if err != nil {
				return fmt.Errorf("--%s: %w", flag, err)
			}
			if err := once(flag, s, "", strconv.Itoa(i)); err != nil {
				return err
			}
			f(&r.Mix.Items[i].Wish)
		}
		return nil
	}
	pairs := func(flag, s string) (string, string, error) {
		k, v, ok := strings.Cut(s, "=")
		if !ok || k == "" || v == "" {
			return "", "", fmt.Errorf("--%s %q: write it as in the help, with =", flag, s)
		}
		return k, v, nil
	}
	for _, s := range w.sideOpeners {
		if err := on("side-opener", s, func(x *planner.Wish) { x.Opens = planner.OfSide }); err != nil {
			return err
		}
	}
	for _, s := range w.sideClosers {
		if err := on("side-closer", s, func(x *planner.Wish) { x.Closes = planner.OfSide }); err != nil {
			return err
		}
	}
	// After those of a side: who opens the tape opens its side, too.
	if err := ofMix("opener", w.openers, func(x *planner.Wish) { x.Opens = planner.OfMix }); err != nil {
		return err
	}
	if err := ofMix("closer", w.closers, func(x *planner.Wish) { x.Closes = planner.OfMix }); err != nil {
		return err
	}
	for _, s := range w.sides {
		side, name, err := pairs("side", s)
		if err != nil {
			return err
		}
		at, err := planner.ParseRecorded(side)
		if err != nil || strings.Contains(side, ":") {
			return fmt.Errorf("--side %q: write A=NAME, B=NAME, or 2B=NAME for the second tape", s)
		}
		if err := oncePer("side", s, name, fmt.Sprint(at.Tape, at.Side), func(x *planner.Wish) { x.Side = strings.ToUpper(side) }); err != nil {
			return err
		}
	}
	for _, s := range w.joins {
		if s == joinAuto {
			continue // when they were listened to
		}
		if err := on("join", s, func(x *planner.Wish) { x.Join = true }); err != nil {
			return err
		}
	}
	for _, s := range w.musts {
		if err := on("must", s, func(x *planner.Wish) { x.Must = true }); err != nil {
			return err
		}
	}
	for i, s := range w.reserves {
		if err := on("reserve", s, func(x *planner.Wish) { x.Reserve = i + 1 }); err != nil {
			return err
		}
	}
	for _, s := range w.notThin {
		if err := on("not-thin", s, func(x *planner.Wish) { x.NotThin = true }); err != nil {
			return err
		}
	}
	for _, s := range w.rugged {
		if err := on("rugged", s, func(x *planner.Wish) { x.Rugged = true }); err != nil {
			return err
		}
	}
	// NAME=VALUE: the name may hold a = itself, so it is cut at the last one.
	values := func(flag string, list []string, f func(value string, x *planner.Wish) error) error {
		for _, s := range list {
			i := strings.LastIndex(s, "=")
			if i < 1 {
				return fmt.Errorf("--%s %q: write it as in the help, with =", flag, s)
			}
			var bad error
			if err := oncePer(flag, s, s[:i], s[i+1:], func(x *planner.Wish) { bad = f(s[i+1:], x) }); err != nil {
				return err
			}
			if bad != nil {
				return fmt.Errorf("--%s %q: %w", flag, s, bad)
			}
		}
		return nil
	}
	if err := values("gap-after", w.gaps, func(v string, x *planner.Wish) error {
		d, err := planner.ParseTime(v, time.Second)
		g := planner.Seconds(d)
		x.Gap = &g
		return err
	}); err != nil {
		return err
	}
	if err := values("fade", w.fades, func(v string, x *planner.Wish) error { return setSeconds(&x.Fade, v) }); err != nil {
		return err
	}
	if err := values("split", w.splits, func(v string, x *planner.Wish) error { return setSeconds(&x.Split, v) }); err != nil {
		return err
	}
	if err := values("drive", w.drives, func(v string, x *planner.Wish) error {
		d, err := strconv.ParseFloat(v, 64)
		if err != nil || !(d >= 0 && d <= 10) {
			return fmt.Errorf("write 0 to 10")
		}
		x.Drive = &d
		return nil
	}); err != nil {
		return err
	}
	if w.apart != 0 {
		r.Apart = w.apart
	}
	for _, s := range w.arcs {
		side, arc, err := pairs("arc", s)
		if err != nil {
			return err
		}
		if err := once("arc", s, strings.ToUpper(side), arc); err != nil {
			return err
		}
		if err := r.SetArc(side, arc); err != nil {
			return fmt.Errorf("--arc %q: %w", s, err)
		}
	}
	return nil
}

// setSeconds reads a time of a wish, which is more than nothing.
func setSeconds(to *planner.Seconds, text string) error {
	d, err := planner.ParseTime(text, time.Second)
	if err == nil && d <= 0 {
		err = errors.New("write a time above 0")
	}
	*to = planner.Seconds(d)
	return err
}
