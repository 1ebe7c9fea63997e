package media

import (
	"context"
	"encoding/binary"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// A tone of 20 s with a hush from 12.3 to 13.7 s and a deeper one from 3 to 5 s:
// the deeper one counts only where it is looked for.
func TestQuietest(t *testing.T) {
	const rate = 8000
	data := make([]byte, 20*rate*2)
	for i := range 20 * rate {
		s, level := float64(i)/rate, 0.5
		switch {
		case s >= 3 && s < 5:
			level = 0
		case s >= 12.3 && s < 13.7:
			level = 0.01
		}
		binary.LittleEndian.PutUint16(data[2*i:], uint16(int16(level*32767*math.Sin(2*math.Pi*440*s))))
	}
	head := []byte("RIFF\x00\x00\x00\x00WAVEfmt \x10\x00\x00\x00\x01\x00\x01\x00\x40\x1F\x00\x00\x80\x3E\x00\x00\x02\x00\x10\x00data\x00\x00\x00\x00")
	binary.LittleEndian.PutUint32(head[4:], uint32(len(data)+36))
	binary.LittleEndian.PutUint32(head[40:], uint32(len(data)))
	path := filepath.Join(t.TempDir(), "hush.wav")
	if err := os.WriteFile(path, append(head, data...), 0o666); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ from, to, want float64 }{{8, 18, 13}, {0, 20, 4}, {0, 8, 4}} {
		at, err := Quietest(context.Background(), path, time.Duration(c.from*1e9), time.Duration(c.to*1e9))
		// Any second wholly inside the hush will do.
		if err != nil || math.Abs(at.Seconds()-c.want) > 0.6 {
			t.Errorf("between %v and %v s: %v, %v; want about %v s", c.from, c.to, at, err, c.want)
		}
	}
	for _, c := range []struct{ from, to float64 }{{30, 40}, {5, 5.5}} {
		if at, err := Quietest(context.Background(), path, time.Duration(c.from*1e9), time.Duration(c.to*1e9)); err == nil {
			t.Errorf("between %v and %v s of 20 s: %v", c.from, c.to, at)
		}
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if _, err := Quietest(ctx, path, 0, 20*time.Second); err == nil {
		t.Error("a stopped search gives a place")
	}
}
