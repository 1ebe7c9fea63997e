package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
)

// asker puts questions to a person at the terminal, one line each. Questions
// go to standard error, so that standard output holds the result alone.
type asker struct {
	ctx   context.Context
	out   io.Writer
	lines chan string // one a line; closed at the end of the input
}

// asking begins a talk. The lines are read beside the program, so that a
// person can stop it in the middle of a question.
func (a *app) asking(ctx context.Context) *asker {
	q := &asker{ctx: ctx, out: a.err, lines: make(chan string)}
	go func() {
		defer close(q.lines)
		in := bufio.NewScanner(a.in)
		for in.Scan() {
			select {
			case q.lines <- in.Text():
			case <-ctx.Done():
				return
			}
		}
	}()
	return q
}

// errAnswersEnded: nothing is guessed from half a talk.
var errAnswersEnded = errors.New("the answers ended before the questions did; nothing was written")

// ask puts a question until take accepts the answer. An empty answer means
// that the person does not know, and is never given to take.
func (q *asker) ask(question string, take func(string) error) error {
	_, err := q.once(question, take)
	return err
}

// each puts a question over and over, until the answer is empty.
func (q *asker) each(question string, take func(string) error) error {
	for {
		if given, err := q.once(question, take); err != nil || !given {
			return err
		}
		question = "  another (Enter: no more)"
	}
}

func (q *asker) once(question string, take func(string) error) (given bool, err error) {
	for {
		fmt.Fprint(q.out, question+": ")
		select {
		case <-q.ctx.Done():
			fmt.Fprintln(q.out)
			return false, q.ctx.Err()
		case line, ok := <-q.lines:
			if !ok {
				fmt.Fprintln(q.out)
				return false, errAnswersEnded
			}
			line = strings.TrimSpace(line)
			if line == "" {
				return false, nil
			}
			if err := take(line); err != nil {
				fmt.Fprintln(q.out, "  "+plain(strings.ReplaceAll(err.Error(), "\n", "; ")))
				continue
			}
			return true, nil
		}
	}
}

// yes takes yes or no into p.
func yes(p *bool) func(string) error {
	return func(s string) error {
		switch strings.ToLower(s) {
		case "y", "yes":
			*p = true
		case "n", "no":
			*p = false
		default:
			return errors.New("write y or n")
		}
		return nil
	}
}
