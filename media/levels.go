package media

import (
	"bytes"
	"context"
	"encoding/gob"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"runtime"
	"slices"
	"sort"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	"longside/media/decode"
	"longside/media/meter"
	"longside/media/scan"
)

// levelsKind is how the cache keeps what the meter heard. Raise the number when
// the meter or a decoder gives another answer.
const levelsKind = "levels 4"

// Heard is a track with what the meter heard of it.
type Heard struct {
	Track
	meter.Result
	// Said are what a person should know of its sound, one sentence each:
	// damaged places, clipped decoding.
	Said []string
}

// Listen measures every track that has a file, in the order given, as it will
// lie on a stereo tape (see decode.Stereo). Tracks from
// no file are left out. Files are decoded on all cores, the longest first, and
// one with several tracks in it is decoded once; what the cache in o knows is
// not decoded again. Progress counts seconds of sound.
// err is for a run that was stopped.
func Listen(ctx context.Context, tracks []Track, o Options) (heard []Heard, faults []Fault, err error) {
	jobs := make([]hearing, 0, len(tracks))
	var files [][]*hearing // the jobs of each file
	var lengths []time.Duration
	number := map[string]int{}
	var total time.Duration
	for _, t := range tracks {
		if t.Path == "" {
			continue
		}
		jobs = append(jobs, hearing{heard: Heard{Track: t}})
		n, ok := number[t.Path]
		if !ok {
			n = len(files)
			number[t.Path] = n
			files, lengths = append(files, nil), append(lengths, 0)
		}
		files[n] = append(files[n], &jobs[len(jobs)-1])
		lengths[n] += t.Length
		total += t.Length
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

	order := make([]int, len(files))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return lengths[order[a]] > lengths[order[b]] })
	workers := o.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	var g errgroup.Group
	g.SetLimit(workers)
	for _, i := range order {
		g.Go(func() error {
			if ctx.Err() == nil {
				listen(ctx, files[i], o, step)
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

// hearing is a track while it is listened to.
type hearing struct {
	heard    Heard
	err      error
	m        *meter.Meter // nil: not begun, or over
	from, to int64        // the samples of it
}

// levelsKind is the kind under which the cache keeps a track's levels.
func (t Track) levelsKind() string {
	if !t.Part {
		return levelsKind
	}
	return fmt.Sprintf("%s from %d for %d", levelsKind, t.From, t.Length)
}

// listen measures the tracks of one file, or remembers them.
func listen(ctx context.Context, jobs []*hearing, o Options, step func(time.Duration)) {
	path := jobs[0].heard.Path
	st, err := os.Stat(path)
	var todo []*hearing
	for _, j := range jobs {
		if err == nil && o.Cache != nil {
			if b, ok := o.Cache.Get(j.heard.Track.levelsKind(), path, st.Size(), st.ModTime()); ok {
				var k kept
				if gob.NewDecoder(bytes.NewReader(b)).Decode(&k) == nil {
					j.heard.Result, j.heard.Said = k.Result, k.Said
					step(j.heard.Track.Length)
					continue
				}
			}
		}
		todo = append(todo, j)
	}
	if len(todo) == 0 {
		return
	}
	said, clips, err := measure(ctx, path, todo, step)
	for _, j := range todo {
		h := &j.heard
		if j.err = err; err != nil {
			continue
		}
		if h.Result.Samples == 0 {
			j.err = errors.New("none of it can be decoded: it is damaged, or of a kind that the decoder does not know")
			continue
		}
		h.Said = slices.Clone(said)
		if clips && h.Result.SamplePeak > -0.01 {
			h.Said = append(h.Said, "its decoder cuts off at full scale: the true peak is at least what is shown")
		}
		if o.Cache != nil && st != nil {
			var b bytes.Buffer
			if gob.NewEncoder(&b).Encode(kept{h.Result, h.Said}) == nil {
				o.Cache.Put(h.Track.levelsKind(), path, st.Size(), st.ModTime(), b.Bytes())
			}
		}
	}
}

// measure decodes a file as far as its tracks go and gives each its result. said
// is what is to be said of the file's sound; clips tells that its decoder does.
func measure(ctx context.Context, path string, jobs []*hearing, step func(time.Duration)) (said []string, clips bool, err error) {
	s, err := decode.OpenStereo(ctx, path)
	if err != nil {
		return nil, false, err
	}
	defer s.Close()
	first, last := int64(math.MaxInt64), int64(0) // where the first of them begins, the last ends
	for _, j := range jobs {
		j.to = math.MaxInt64
		if t := j.heard.Track; t.Part {
			j.from, j.to = scan.Samples(t.From, s.Rate), scan.Samples(t.From+t.Length, s.Rate)
		}
		first, last = min(first, j.from), max(last, j.to)
	}
	if err := s.Skip(ctx, first); err != nil && !errors.Is(err, io.EOF) {
		return nil, false, err
	}
	pcm := make([]float32, 2*4096)
	for at, second := first, first/int64(s.Rate); at < last; {
		n, err := s.Read(pcm)
		for _, j := range jobs {
			from, to := max(j.from, at), min(j.to, at+int64(n))
			if from < to {
				if j.m == nil {
					var bad error
					if j.m, bad = meter.New(s.Rate, 2); bad != nil {
						return nil, false, bad
					}
				}
				j.m.Write(pcm[2*(from-at) : 2*(to-at)])
			}
			if j.m != nil && at+int64(n) >= j.to {
				j.heard.Result, j.m = j.m.Result(), nil
			}
		}
		at += int64(n)
		if errors.Is(err, io.EOF) {
			break
		}
		if err == nil {
			err = ctx.Err()
		}
		if err != nil {
			return nil, false, err
		}
		if now := at / int64(s.Rate); now > second {
			step(time.Duration(now-second) * time.Second)
			second = now
		}
	}
	for _, j := range jobs {
		if j.m != nil {
			j.heard.Result, j.m = j.m.Result(), nil
		}
	}
	return s.Notes(), s.By == "mp3", nil
}
