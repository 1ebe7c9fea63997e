package main

import (
	"context"
	"io"
	"os"
	"os/signal"
	"sync"
	"syscall"
	"time"
)

// untilStopped gives the context that the first Ctrl-C ends, or the first signal
// to terminate or hang up: the command then cleans up and says that it was
// stopped. A second one always ends the process, whatever it waits for; what that
// leaves half written, the next run puts in order.
func untilStopped() (ctx context.Context, end func()) {
	ctx, cancel := context.WithCancel(context.Background())
	got, over := make(chan os.Signal, 2), make(chan struct{})
	signals := []os.Signal{os.Interrupt, syscall.SIGTERM}
	if !signal.Ignored(syscall.SIGHUP) { // as nohup has it
		signals = append(signals, syscall.SIGHUP)
	}
	signal.Notify(got, signals...)
	go func() {
		for n := 0; ; n++ {
			select {
			case <-over:
				return
			case <-got:
				if n > 0 {
					os.Exit(exitWrong)
				}
				cancel()
			}
		}
	}()
	return ctx, func() {
		signal.Stop(got)
		close(over)
		cancel()
	}
}

// afterStop is how long an output may take once the command was stopped: time for
// the best answer so far, not for a reader that is gone or a terminal that is held.
const afterStop = 500 * time.Millisecond

// breakable is an output whose writing ends when the command is stopped: a pipe
// that nobody reads from, or a terminal that is held, would block it for good.
type breakable struct {
	ctx context.Context
	to  io.Writer

	mu    sync.Mutex
	stuck bool // a write is blocked: nothing more is tried
}

func (b *breakable) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.stuck {
		return 0, b.ctx.Err()
	}
	type result struct {
		n   int
		err error
	}
	done := make(chan result, 1)
	own := append([]byte(nil), p...) // the caller's may change while a blocked write still reads it
	go func() {
		n, err := b.to.Write(own)
		done <- result{n, err}
	}()
	select {
	case r := <-done:
		return r.n, r.err
	case <-b.ctx.Done():
	}
	select {
	case r := <-done:
		return r.n, r.err
	case <-time.After(afterStop):
		b.stuck = true
		return 0, b.ctx.Err()
	}
}

// stoppable is an input that ends when the command is stopped: nobody may ever
// type into it.
type stoppable struct {
	ctx  context.Context
	from io.Reader
}

func (s stoppable) Read(p []byte) (int, error) {
	type result struct {
		n   int
		err error
	}
	done := make(chan result, 1)
	own := make([]byte, min(len(p), 64<<10))
	go func() {
		n, err := s.from.Read(own)
		done <- result{n, err}
	}()
	select {
	case r := <-done:
		return copy(p, own[:r.n]), r.err
	case <-s.ctx.Done():
		return 0, s.ctx.Err()
	}
}
