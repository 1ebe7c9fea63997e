package media

import (
	"context"
	"errors"
	"io"
	"math"
	"time"

	"longside/media/decode"
)

// quietWindow is how long a place must stay quiet to be one where a piece can be
// split: our own choice, about a breath between two movements.
const quietWindow = time.Second

// Quietest gives the middle of the quietest second of a file between two times,
// by the mean square of all channels; of places equally quiet, the one nearest
// the middle of the two. It fails when the file cannot be decoded that far.
func Quietest(ctx context.Context, path string, from, to time.Duration) (time.Duration, error) {
	s, err := decode.Open(ctx, path)
	if err != nil {
		return 0, err
	}
	defer s.Close()
	const parts = 10 // of the window: the grid is a tenth of a second
	slot := int64(s.Rate) / parts
	if slot == 0 || to-from < quietWindow {
		return 0, errors.New("no second to look at")
	}
	first, last := int64(from.Seconds()*float64(s.Rate)), int64(to.Seconds()*float64(s.Rate))
	middle := (from + to) / 2
	var ring [parts]float64
	var sum float64
	filled, inSlot := 0, int64(0)
	best, at, found := math.Inf(1), time.Duration(0), false
	pcm := make([]float32, 4096*s.Channels)
	for n := int64(0); n < last; {
		k, err := s.Read(pcm)
		for i := range k {
			if n++; n <= first || n > last {
				continue
			}
			for _, v := range pcm[i*s.Channels : (i+1)*s.Channels] {
				sum += float64(v) * float64(v)
			}
			if inSlot++; inSlot < slot {
				continue
			}
			ring[filled%parts] = sum
			sum, inSlot = 0, 0
			if filled++; filled < parts {
				continue
			}
			level := 0.0
			for _, e := range ring {
				level += e
			}
			here := time.Duration(float64(n)/float64(s.Rate)*float64(time.Second)) - quietWindow/2
			if !found || level < best || level == best && (here-middle).Abs() < (at-middle).Abs() {
				best, at, found = level, here, true
			}
		}
		if errors.Is(err, io.EOF) {
			break
		}
		if err == nil {
			err = ctx.Err()
		}
		if err != nil {
			return 0, err
		}
	}
	if !found {
		return 0, errors.New("it ends before the place to look at")
	}
	return at, nil
}
