package main

import (
	"context"
	"errors"
	"fmt"

	"longside/media/verify"
	"longside/planner"
)

// sideAnswer is the answer as JSON: what was found of a side, and what it means.
type sideAnswer struct {
	Capture string `json:"capture"`
	Side    string `json:"side"`
	planner.SideVerdict
	verify.SideFindings
}

// verifySide lays a capture against a side of a plan. errNo says that it is not
// all there.
func (a *app) verifySide(ctx context.Context, path string, f verifyFlags) error {
	p, err := loadPlan(f.plan)
	if err != nil {
		return err
	}
	ti, si, err := p.ParseSide(f.of)
	if err != nil {
		return fmt.Errorf("--of: %w", err)
	}
	side := p.Tapes[ti].Sides[si]
	if len(side.Tracks) == 0 {
		return fmt.Errorf("--of %s: the plan has no track on this side", f.of)
	}
	if err := checkFiles(onlySide(p, ti, si), f.changed); err != nil {
		return err
	}
	capture, err := verify.File(path)
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	sent, err := sentOf(side)
	if err != nil {
		return err
	}
	step, end := a.progress("listening to capture and tracks, seconds")
	found, err := verify.Side(ctx, capture, sent, func(done, total float64) { step(int(done), int(total)) })
	end()
	if errors.Is(err, context.Canceled) {
		return err
	}
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	verdict := planner.JudgeSide(found, p, ti, si)
	if f.asJSON {
		if err := a.printJSON(sideAnswer{path, f.of, verdict, found}); err != nil {
			return err
		}
	} else {
		a.showSide(path, p.Tapes[ti].Name+" side "+side.Side, found, verdict)
	}
	if !verdict.AllThere {
		return errNo
	}
	return nil
}

// onlySide is a plan with the tracks of one side.
func onlySide(p planner.Plan, ti, si int) planner.Plan {
	t := p.Tapes[ti]
	t.Sides = []planner.Side{t.Sides[si]}
	p.Tapes = []planner.Tape{t}
	return p
}

// sentOf is a side as it was sent.
func sentOf(s planner.Side) ([]verify.Sent, error) {
	var all []verify.Sent
	var faults []error
	for i, c := range s.Cues(nil) {
		t := s.Tracks[i]
		x := verify.Sent{Title: plain(t.Title), Start: t.StartS.D().Seconds(), Length: t.LengthS.D().Seconds(), Skip: c.Skip.Seconds(), Fade: c.Fade.Seconds()}
		if c.Path != "" {
			source, err := verify.SourceFile(c.Path)
			if err != nil {
				faults = append(faults, fmt.Errorf("%s: %w", c.Path, err))
				continue
			}
			x.Source = &source
		}
		all = append(all, x)
	}
	return all, errors.Join(faults...)
}

// showSide prints the answer, what to do, and a line or more for each track.
func (a *app) showSide(path, side string, f verify.SideFindings, v planner.SideVerdict) {
	head, st, text := "It is all there:", good, side
	if !v.AllThere {
		head, st, text = "It is not all there:", danger, side
	}
	a.wrap(a.paint(st, head), columns(head)+1, text+fmt.Sprintf(". Record was pressed at %s of %s.", planner.Clock(secondsOf(f.RecordS)), plain(path)))
	for _, w := range v.Wrong {
		a.wrap(a.paint(danger, "wrong:"), 7, w)
	}
	for _, w := range v.Again {
		a.wrap(a.paint(danger, "record again:"), 14, w)
	}
	if f.Speed != nil {
		text := fmt.Sprintf("speed %+.3f ±%.3f %%, playing against what was sent", f.Speed.Value, f.Speed.Within)
		if f.Drift != nil {
			text += fmt.Sprintf("; from the first to the last track it drifts by %+.3f ±%.3f %%", f.Drift.Value, f.Drift.Within)
		}
		a.hang(text)
	}
	fmt.Fprintln(a.out)
	for _, t := range v.Tracks {
		st := faint
		if t.Whole != nil {
			st = good
			if !*t.Whole {
				st = danger
			}
		}
		a.wrap(fmt.Sprintf("%3d", t.Number), 4, fmt.Sprintf("%s: %s", t.Title, a.paint(st, t.Says)))
		for _, m := range t.More {
			a.wrap("   ", 4, m)
		}
	}
	for _, n := range v.Notes {
		a.wrap(a.paint(care, "note:"), 6, n)
	}
}
