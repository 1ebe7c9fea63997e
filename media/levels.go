package media

import (
	"bytes"
	"context"
	"encoding/gob"
	"errors"
	"io"
	"os"
	"runtime"
	"sort"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	"longside/media/decode"
	"longside/media/meter"
)

// levelsKind is how the cache keeps what the meter heard. Raise the number when
// the meter or a decoder gives another answer.
const levelsKind = "levels 2"

// Heard is a track with what the meter heard of it.
type Heard struct {
	Track
	meter.Result
	// Said are what a person should know of its sound, one sentence each:
	// damaged places, clipped decoding.
	Said []string
}

// Listen measures every track that has a file, in the order given. Tracks from
// no file are left out. Files are decoded on all cores, the longest first; what
// the cache in o knows is not decoded again. Progress counts seconds of sound.
// err is for a run that was stopped.
func Listen(ctx context.Context, tracks []Track, o Options) (heard []Heard, faults []Fault, err error) {
	type job struct {
		heard Heard
		err   error
	}
	jobs := make([]job, 0, len(tracks))
	var total time.Duration
	for _, t := range tracks {
		if t.Path != "" {
			jobs = append(jobs, job{heard: Heard{Track: t}})
			total += t.Length
		}
	}
	var mu sync.Mutex
	var done time.Duration
	step := func(d time.Duration) {
		mu.Lock()
		defer mu.Unlock()
		done += d
		if o.Progress != nil {
			o.Progress(int(min(done, total)/time.Second), int(total/time.Second))
		}
	}

	order := make([]int, len(jobs))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool {
		return jobs[order[a]].heard.Track.Length > jobs[order[b]].heard.Track.Length
	})
	workers := o.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	var g errgroup.Group
	g.SetLimit(workers)
	for _, i := range order {
		g.Go(func() error {
			j := &jobs[i]
			if ctx.Err() == nil {
				j.err = listen(ctx, &j.heard, o, step)
			}
			return nil
		})
	}
	g.Wait()
	if ctx.Err() != nil {
		return nil, nil, stopped(ctx)
	}
	for _, j := range jobs {
		if j.err != nil {
			faults = append(faults, Fault{j.heard.Path, j.err})
			continue
		}
		heard = append(heard, j.heard)
	}
	return heard, faults, nil
}

// kept is what the cache keeps.
type kept struct {
	Result meter.Result
	Said   []string
}

// listen measures one file, or remembers it.
func listen(ctx context.Context, h *Heard, o Options, step func(time.Duration)) error {
	st, err := os.Stat(h.Path)
	if err == nil && o.Cache != nil {
		if b, ok := o.Cache.Get(levelsKind, h.Path, st.Size(), st.ModTime()); ok {
			var k kept
			if gob.NewDecoder(bytes.NewReader(b)).Decode(&k) == nil {
				h.Result, h.Said = k.Result, k.Said
				step(h.Track.Length)
				return nil
			}
		}
	}
	s, err := decode.Open(ctx, h.Path)
	if err != nil {
		return err
	}
	defer s.Close()
	m, err := meter.New(s.Rate, s.Channels)
	if err != nil {
		return err
	}
	pcm := make([]float32, 4096*s.Channels)
	for lastSecond := int64(0); ; {
		n, err := s.Read(pcm)
		m.Write(pcm[:n*s.Channels])
		if errors.Is(err, io.EOF) {
			break
		}
		if err == nil {
			err = ctx.Err()
		}
		if err != nil {
			return err
		}
		if second := s.Given() / int64(s.Rate); second > lastSecond {
			step(time.Duration(second-lastSecond) * time.Second)
			lastSecond = second
		}
	}
	h.Result, h.Said = m.Result(), s.Notes()
	if s.By == "mp3" && h.Result.SamplePeak > -0.01 {
		h.Said = append(h.Said, "its decoder cuts off at full scale: the true peak is at least what is shown")
	}
	if h.Result.Samples == 0 {
		return errors.New("damaged: none of it can be decoded")
	}
	if o.Cache != nil && st != nil {
		var b bytes.Buffer
		if gob.NewEncoder(&b).Encode(kept{h.Result, h.Said}) == nil {
			o.Cache.Put(levelsKind, h.Path, st.Size(), st.ModTime(), b.Bytes())
		}
	}
	return nil
}
