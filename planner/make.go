package planner

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"longside/fit"
	"longside/planner/tape"
)

// Make plans the request: the best sides there are, laid along the tape, with
// what to beware of. When not everything fits, Fits is false, the plan is the
// best part that does, and LeftOut holds the rest. The error is for a request
// that makes no sense, or a context that ended before there was any answer.
func Make(ctx context.Context, r Request) (Plan, error) {
	p, err := r.arrange(ctx)
	if err != nil {
		return Plan{}, err
	}
	p.Warnings = append(r.warn(p), p.mustLost...)
	return p.withLevels(), nil
}

// arrange is Make without the warnings but those of tracks that must be on the
// tape and are not.
func (r *Request) arrange(ctx context.Context) (Plan, error) {
	asked := *r
	if err := r.ready(); err != nil {
		return Plan{}, err
	}
	pieces := r.pieces()
	if err := r.checkOverlaps(pieces); err != nil {
		return Plan{}, err
	}
	answer, err := r.solve(ctx, pieces)
	if err == nil {
		return r.lay(pieces, answer), nil
	}
	return r.withoutMusts(ctx, asked.explain(ctx, err))
}

// ready refuses what cannot be solved, and splits what is to be split.
func (r *Request) ready() error {
	err := errors.Join(r.check(), r.checkWishes(), r.checkGaps())
	if err == nil {
		r.Mix, err = r.Mix.split()
	}
	return err
}

// withoutMusts answers where not all that must be on the tape can be, for the
// reason given: the best there is without that wish, and a warning that says
// stop for each such track that is left out.
func (r *Request) withoutMusts(ctx context.Context, why error) (Plan, error) {
	any := false
	q := *r
	q.Mix.Items = slices.Clone(r.Mix.Items)
	for i := range q.Mix.Items {
		w := &q.Mix.Items[i].Wish
		any = any || w.Must
		w.Must = false
	}
	if !any || ctx.Err() != nil {
		return Plan{}, why
	}
	pieces := q.pieces()
	answer, err := q.solve(ctx, pieces)
	if err != nil {
		return Plan{}, why
	}
	p := r.lay(pieces, answer) // with the wishes as they are
	for _, t := range p.LeftOut {
		if t.Wish != nil && t.Wish.Must {
			p.Fits = false
			p.mustLost = append(p.mustLost, Warning{About: "must", Severity: Stop, Track: t.Title,
				Says: fmt.Sprintf("%s must be on the tape and has no place: %v", quote(t.Title), why)})
		}
	}
	return p, nil
}

// solve asks fit. A preference for rugged tracks on the thin tail is first put
// as a rule, and dropped when anything would be left out for its sake.
func (r *Request) solve(ctx context.Context, ps []piece) (fit.Answer, error) {
	a, err := r.solveSplit(ctx, ps)
	if r.ThinTail == RuggedTail && (err != nil || r.lacks(ps, a)) {
		plain := *r
		plain.ThinTail = WarnTail
		return plain.solveSplit(ctx, ps)
	}
	return a, err
}

// whole rounds a length up to the millisecond, so that the times of a plan add
// up to the digit and nothing fits by rounding.
func whole(d time.Duration) time.Duration { return fit.Up(d).Duration() }

// limits are the three figures of a tape on this deck.
func (r *Request) limits(c Choice) limits {
	return limits(c.Tape.Limits(tape.Running{
		DeckError: r.DeckError,
		Tolerance: r.Tolerance,
		LeadIn:    r.LeadIn,
		EndLeader: r.EndLeader,
		Timed:     c.Timed,
	}))
}

type limits tape.Limits

func (l limits) of(which Limit) time.Duration {
	switch which {
	case NominalLimit:
		return l.Nominal
	case MeasuredLimit:
		return l.Measured
	}
	return l.Short
}

// lacks tells whether an answer leaves out a track that is wanted; a reserve
// that finds no time is no loss.
func (r *Request) lacks(ps []piece, a fit.Answer) bool {
	return slices.ContainsFunc(a.LeftOut, func(n int) bool {
		return r.reserve(ps[n]) == 0
	})
}

// lay puts an answer along the tape: when each track starts, what the counter
// shows then, and what is left.
func (r *Request) lay(ps []piece, a fit.Answer) Plan {
	p := Plan{
		Format: Format, Version: Version,
		Title: r.Mix.Title, Note: r.Mix.Note,
		Fits:    !r.lacks(ps, a),
		Proved:  a.Proved,
		WithinS: Seconds(a.Within.Duration()), WithinSongs: a.SongsWithin,
		Cut:     a.Cut,
		AtLeast: a.AtLeast,
		Tapes:   []Tape{},
		LeftOut: []Track{},
		Skipped: r.Mix.skipped(),
		Terms:   r.terms(),
	}
	faded := map[int]time.Duration{}
	for _, f := range a.Faded {
		faded[f.Piece] = f.By.Duration()
	}
	for _, load := range r.loads(a) {
		c := load.choice
		t := Tape{
			Name:        c.Tape.Name,
			Label:       load.label,
			Type:        cmp.Or(c.Type, r.TapeType),
			Used:        c.Used || r.UsedTape,
			TimedS:      Seconds(c.Timed),
			ThicknessUM: float64(c.Tape.Thickness),
			LengthM:     float64(c.Tape.Length),
			HubMM:       float64(c.Tape.Hub),
			FullMM:      float64(c.Tape.FullRadius()),
		}
		if !c.Known.Same(Known{}) {
			t.Known = &c.Known
		}
		for i, numbers := range load.sides {
			t.Sides = append(t.Sides, r.laySide(c, string(rune('A'+i)), ps, faded, load.done[i], numbers))
		}
		p.Tapes = append(p.Tapes, t)
	}
	r.layArcs(&p, a)
	if r.Order == fit.Near {
		for _, n := range a.Moved() {
			for _, i := range ps[n].items {
				p.Moved = append(p.Moved, r.Mix.Items[i].Title)
			}
		}
		if p.MovedAtLeast = a.MovedAtLeast; p.MovedAtLeast == a.Score.Moved {
			p.MovedAtLeast = len(p.Moved) // what is joined counts once in fit
		}
	}
	for _, n := range a.LeftOut {
		for _, i := range ps[n].items {
			p.LeftOut = append(p.LeftOut, r.track(i))
		}
	}
	return p
}

// load is a tape to lay: what is on each side already, and the pieces to come.
type load struct {
	choice Choice
	label  string
	done   [2][]Track
	sides  [][]int
}

// loads are the tapes of an answer. A tape that was begun is there even when
// nothing more goes on it.
func (r *Request) loads(a fit.Answer) []load {
	var ls []load
	taken := map[int]int{} // how many of a choice are used already
	fresh := r.fresh()
	for n, t := range a.Tapes {
		if n < len(r.begun) {
			b := r.begun[n]
			ls = append(ls, load{choice: b.choice, label: b.label, done: b.done, sides: t.Sides})
			continue
		}
		l := load{choice: fresh[t.Kind-len(r.begun)], sides: t.Sides}
		if n := taken[t.Kind]; n < len(l.choice.Labels) {
			l.label = l.choice.Labels[n]
			taken[t.Kind]++
		}
		ls = append(ls, l)
	}
	return ls
}

// laySide lays pieces along one side. Clock times are what the person's watch
// shows; the tape itself runs faster or slower by the deck's error.
func (r *Request) laySide(c Choice, name string, ps []piece, faded map[int]time.Duration, done []Track, numbers []int) Side {
	lim := r.limits(c)
	s := Side{
		Side:      name,
		UsableS:   Seconds(whole(lim.of(r.Limit))),
		ShortS:    Seconds(whole(lim.Short)),
		NominalS:  Seconds(whole(lim.Nominal)),
		MeasuredS: Seconds(whole(lim.Measured)),
		RunS:      Seconds(whole(c.Tape.Run(r.DeckError))),
		Tracks:    []Track{},
	}
	if c.Timed > 0 {
		s.RunS = Seconds(whole(tape.ClockTime(c.Timed, r.DeckError)))
	}
	if z := c.Tape.ThinTail(); !z.Empty() {
		s.ThinFromS = Seconds(whole(tape.ClockTime(z.From, r.DeckError)))
	}
	at := r.LeadIn
	for i, t := range done {
		at = t.EndS().D()
		t.GapS, t.Recorded = 0, true
		if i < len(done)-1 {
			t.GapS = done[i+1].StartS - t.EndS()
		} else if len(numbers) > 0 {
			t.GapS = Seconds(r.gapAfter(t))
			at += t.GapS.D()
		}
		s.Tracks = append(s.Tracks, t)
	}
	for k, n := range numbers {
		for j, i := range ps[n].items {
			t := r.track(i)
			if j == len(ps[n].items)-1 {
				t.FadeS = Seconds(faded[n])
				t.LengthS -= t.FadeS
			}
			t.StartS = Seconds(at)
			t.Counter = r.counter(c.Tape, at)
			at += t.LengthS.D()
			switch {
			case j < len(ps[n].items)-1:
				t.Joined = true
			case k < len(numbers)-1:
				t.GapS = Seconds(ps[n].gap)
				at += ps[n].gap
			}
			s.Tracks = append(s.Tracks, t)
		}
	}
	s.UsedS = Seconds(at - r.LeadIn)
	s.SpareS = s.UsableS - s.UsedS
	return s
}

// layArcs tells how near each side is to its arc.
func (r *Request) layArcs(p *Plan, a fit.Answer) {
	for _, f := range a.Arcs {
		side := &p.Tapes[f.Tape].Sides[f.Side]
		unit := float64(driveUnit * len(a.Tapes[f.Tape].Sides[f.Side]))
		side.Arc = &ArcFit{
			Arc: r.Arcs[side.Side],
			Off: float64(f.Off) / unit, Within: float64(f.Within) / unit, Proved: f.Within == 0,
		}
	}
}

// counter is the deck's reading at a clock time; nil where it counts time.
func (r *Request) counter(t tape.Tape, at time.Duration) *int {
	if r.CounterRatio == 0 {
		return nil
	}
	// Three drums: the reading wraps at 1000.
	n := int(t.Counter(tape.NominalTime(at, r.DeckError), r.CounterRatio)) % 1000
	return &n
}

// track is item i as the plan holds it, not laid yet.
func (r *Request) track(i int) Track {
	it := r.Mix.Items[i]
	t := Track{
		Path: it.Path, Title: it.Title, Artist: it.Artist,
		LengthS:    Seconds(whole(it.Length)),
		LengthFrom: it.LengthFrom,
		Number:     it.Number,
		Part:       it.Part,
		SplitOf:    it.splitOf,
		Size:       it.Size,
		Level:      LevelOf(it.Heard),
	}
	if it.Part {
		t.FromS, t.PartS = Exact(it.From), Exact(it.Length)
	}
	if it.Wish != (Wish{}) {
		t.Wish = &it.Wish
		t.Reserve = it.Wish.Reserve
	}
	// JSON has no way to write a year beyond 9999, which a file can have.
	if m := it.ModTime.UTC(); !m.IsZero() && m.Year() >= 0 && m.Year() <= 9999 {
		t.ModTime = &m
	}
	return t
}

// terms are what the plan was reckoned with.
func (r *Request) terms() Terms {
	t := Terms{
		Order: orderNames[r.Order], Spare: spareNames[r.Spare], Aim: aimNames[r.Aim], Tapes: max(1, r.MaxTapes),
		Apart: r.Apart, Arcs: r.Arcs, ThinTail: string(r.ThinTail),
		GapS: Seconds(r.Gap), Limit: string(r.Limit),
		TolerancePct: r.Tolerance * 100, DeckSpeedPct: r.DeckError * 100,
		LeadInS: Seconds(r.LeadIn), EndLeaderS: Seconds(r.EndLeader),
		CounterRatio: r.CounterRatio, CounterKnown: r.CounterKnown,
		TapeType: r.TapeType, NoiseReduction: r.NoiseReduction, UsedTape: r.UsedTape, Stored: r.Stored,
	}
	levels := r.Levels
	t.Levels = &levels
	if d := r.Deck; d != nil {
		t.Deck = &Deck{
			Name: d.Name, Heads: d.Heads, AutoStop: string(d.AutoStop),
			AutoReverse: d.AutoReverse, TurnRoundS: Seconds(d.TurnRound), MeterZero: d.MeterZero,
			LevelControl: d.LevelControl, BiasControl: d.BiasControl,
		}
	}
	if r.DeckLimit.Known {
		t.DeckLimit = r.DeckLimit.Name
	}
	if len(r.Tapes) == 1 {
		t.TapeMinutes = r.Tapes[0].Timed.Minutes()
	}
	for _, it := range r.Mix.Items {
		t.TypedMarginS += Seconds(it.margin())
	}
	return t
}
