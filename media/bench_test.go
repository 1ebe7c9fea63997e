package media

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"sync"
	"testing"
	"time"

	"longside/media/cache"
	"longside/testdata/reftool"
)

// The benchmarks here read one collection: songs of two to four minutes in every
// common format, with tags and most with a cover, linked 10,000 times under
// other names (and for the cold run copied). Compare figures of one run only:
//
//	go test ./media -run xxx -bench . -benchtime 3x
var collected struct {
	once  sync.Once
	dir   string
	songs []string
}

func collection(b *testing.B) (dir string, songs []string) {
	b.Helper()
	for _, tool := range []string{"sox", "lame", "flac", "oggenc", "opusenc", "ffmpeg"} {
		reftool.Need(b, tool)
	}
	collected.once.Do(func() {
		dir, err := os.MkdirTemp("", "longside-collection")
		if err != nil {
			b.Fatal(err)
		}
		cmd := exec.Command("sh", "-euc", `
			sox -D -R -r 44100 -c 2 -n -b 16 a.wav synth 123.4 pinknoise synth 123.4 sine amod 220 gain -12 2>/dev/null
			sox -D -R -r 44100 -c 2 -n -b 16 b.wav synth 201.7 sine fmod 330 gain -9 2>/dev/null
			head -c 60000 /dev/urandom > noise; { printf '\377\330\377\340'; cat noise; } > cover.jpg
			n=0
			for w in a b; do
				tags="--tt Song_$n --ta Crew --tl Night --ty 2004 --tn 3/9"
				lame --silent -V2 $tags --ti cover.jpg $w.wav $w-v2.mp3
				lame --silent -b 128 $tags $w.wav $w-128.mp3
				lame --silent -b 192 -t $tags $w.wav $w-notag.mp3
				lame --silent --abr 160 $tags --ti cover.jpg $w.wav $w-abr.mp3
				flac -s -5 -T TITLE=Song -T ARTIST=Crew --picture=3\|image/jpeg\|\|100x100x24\|cover.jpg $w.wav -o $w.flac
				oggenc -Q -t Song -a Crew $w.wav -o $w.ogg
				opusenc --quiet --title Song --artist Crew $w.wav $w.opus
				ffmpeg -v error -nostdin -i $w.wav -c:a aac -metadata title=Song -metadata artist=Crew $w.m4a
				n=$((n+1))
			done
			rm noise cover.jpg`)
		cmd.Dir = dir
		if out, err := cmd.CombinedOutput(); err != nil {
			b.Fatalf("%v %s", err, out)
		}
		collected.dir = dir
		collected.songs, _ = filepath.Glob(filepath.Join(dir, "*.*"))
	})
	return collected.dir, collected.songs
}

func TestMain(m *testing.M) {
	code := m.Run()
	if collected.dir != "" {
		os.RemoveAll(collected.dir)
	}
	os.Exit(code)
}

// linked links the collection n times into a fresh folder.
func linked(b *testing.B, n int) (dir string, paths []string) {
	b.Helper()
	from, songs := collection(b)
	dir, err := os.MkdirTemp(from, "linked")
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { os.RemoveAll(dir) })
	for i := range n {
		song := songs[i%len(songs)]
		path := filepath.Join(dir, fmt.Sprintf("%05d%s", i, filepath.Ext(song)))
		if err := os.Link(song, path); err != nil {
			b.Fatal(err)
		}
		paths = append(paths, path)
	}
	return dir, paths
}

// longAgo is a time of change that the cache trusts.
var longAgo = time.Unix(1_000_000_000, 0)

func filesASecond(b *testing.B, n int) {
	b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "files/s")
}

func readFolder(b *testing.B, dir string, n int, o Options) {
	b.Helper()
	tracks, faults, err := Read(context.Background(), []string{dir}, o)
	if err != nil || len(faults) > 0 || len(tracks) != n {
		b.Fatalf("%d tracks, %v, %v", len(tracks), faults, err)
	}
}

func BenchmarkRead10000(b *testing.B) {
	const n = 10000
	dir, _ := linked(b, n)
	for b.Loop() {
		readFolder(b, dir, n, Options{})
	}
	filesASecond(b, n)
}

func BenchmarkRead10000Cached(b *testing.B) {
	const n = 10000
	dir, paths := linked(b, n)
	for _, p := range paths[:min(n, 200)] { // the links share their times; young files are not kept
		os.Chtimes(p, longAgo, longAgo)
	}
	store := b.TempDir()
	read := func() {
		c, err := cache.Open(store)
		if err != nil {
			b.Fatal(err)
		}
		readFolder(b, dir, n, Options{Cache: c})
		if err := c.Close(); err != nil {
			b.Fatal(err)
		}
	}
	read() // fills it
	for b.Loop() {
		read()
	}
	filesASecond(b, n)
}

func BenchmarkMediainfoOneProcess(b *testing.B) {
	tool := reftool.Need(b, "mediainfo")
	const n = 1000
	_, paths := linked(b, n)
	for b.Loop() {
		if err := exec.Command(tool, append([]string{"--Output=JSON"}, paths...)...).Run(); err != nil {
			b.Fatal(err)
		}
	}
	filesASecond(b, n)
}

func BenchmarkFfprobeAFileAtATimeOnAllCores(b *testing.B) {
	tool := reftool.Need(b, "ffprobe")
	const n = 60
	_, paths := linked(b, n)
	for b.Loop() {
		allCores(paths, func(path string) error {
			return exec.Command(tool, "-v", "error", "-show_format", "-show_streams", path).Run()
		})
	}
	filesASecond(b, n)
}

func allCores(paths []string, f func(string) error) {
	work := make(chan string)
	var wg sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			for p := range work {
				_ = f(p)
			}
		})
	}
	for _, p := range paths {
		work <- p
	}
	close(work)
	wg.Wait()
}

// BenchmarkListen measures the levels of the demo's tracks, on all cores. The
// build is guided by a profile of it: see testdata/levelsbench/profile.sh.
func BenchmarkListen(b *testing.B) {
	tracks, faults, err := Read(context.Background(), []string{"../testdata/night-ferry"}, Options{})
	if err != nil || len(faults) > 0 || len(tracks) == 0 {
		b.Fatalf("%d tracks, %v, %v", len(tracks), faults, err)
	}
	var sound time.Duration
	for _, t := range tracks {
		sound += t.Length
	}
	for b.Loop() {
		heard, faults, err := Listen(context.Background(), tracks, Options{})
		if err != nil || len(faults) > 0 || len(heard) != len(tracks) {
			b.Fatalf("%d heard, %v, %v", len(heard), faults, err)
		}
	}
	b.ReportMetric(sound.Seconds()*float64(b.N)/b.Elapsed().Seconds(), "x-real-time")
}
