#!/bin/sh
# Compares longside levels with ffmpeg's ebur128 filter (peak=true, one process
# a core) on the same files in one run, and prints the ratios of wall time:
# under 1 is faster than ffmpeg. Needs go, sox, lame, flac, oggenc and ffmpeg.
#
#	sh testdata/levelsbench/bench.sh [FILES] [SECONDS]
#
# Both take turns three times, and the shortest of each counts: other work on
# the machine then harms both alike.
set -eu
files=${1:-8}
seconds=${2:-180}
repo=$(cd "$(dirname "$0")/../.." && pwd)
dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT INT TERM
cores=$(nproc)

(cd "$repo" && go build -o "$dir/longside" ./cmd/longside)
export XDG_CACHE_HOME="$dir/cache" # after the build, whose own cache lies there

# Music from the demo, each track over and over until SECONDS are full; and pink
# noise under chords, which leaves FLAC little to predict and no line of an MP3's
# spectrum empty: the most that their decoders can be asked for.
mkdir "$dir/wav" "$dir/flac" "$dir/ogg" "$dir/mp3" "$dir/noise.flac" "$dir/noise.mp3"
i=0
for track in "$repo"/testdata/night-ferry/[01]*; do
	[ "$i" -lt "$files" ] || break
	sox "$track" -r 44100 -c 2 -b 16 "$dir/wav/$i.wav" repeat - trim 0 "$seconds" 2>/dev/null
	flac -s -5 -o "$dir/flac/$i.flac" "$dir/wav/$i.wav"
	oggenc -Q -q 5 -o "$dir/ogg/$i.ogg" "$dir/wav/$i.wav"
	# Plain stereo is go-mp3's; joint stereo with sharp attacks goes to ffmpeg.
	lame --quiet -m s -V 2 "$dir/wav/$i.wav" "$dir/mp3/$i.mp3"
	sox -n -r 44100 -c 2 -b 16 "$dir/chord.wav" synth "$seconds" \
		sine $((200 + 17 * i)) sine $((301 + 11 * i)) tremolo 0.3 60 gain -9 2>/dev/null
	sox -n -r 44100 -c 2 -b 16 "$dir/pink.wav" synth "$seconds" pinknoise tremolo 2 95 gain -12 2>/dev/null
	sox -m "$dir/chord.wav" "$dir/pink.wav" -b 16 "$dir/mix.wav" gain -n -1 2>/dev/null
	flac -s -5 -o "$dir/noise.flac/$i.flac" "$dir/mix.wav"
	lame --quiet -m s -V 2 "$dir/mix.wav" "$dir/noise.mp3/$i.mp3"
	i=$((i + 1))
done
files=$i
rm -f "$dir"/*.wav

now() { date +%s.%N; }
ours() { "$dir/longside" levels "$1" --no-cache >/dev/null; }
theirs() {
	find "$1" -type f -print0 | xargs -0 -n 1 -P "$cores" \
		sh -c 'ffmpeg -nostats -hide_banner -i "$0" -af ebur128=peak=true -f null - >/dev/null 2>&1'
}
printf '%s files of %s s, %s cores\n' "$files" "$seconds" "$cores"
for kind in wav flac ogg mp3 noise.flac noise.mp3; do
	a= b=
	for turn in 1 2 3; do
		t0=$(now); ours "$dir/$kind"; t1=$(now); theirs "$dir/$kind"; t2=$(now)
		a="$a $(echo "$t1 - $t0" | bc)"
		b="$b $(echo "$t2 - $t1" | bc)"
	done
	best() { printf '%s\n' "$@" | sort -n | head -1; }
	# shellcheck disable=SC2086
	x=$(best $a) y=$(best $b)
	printf '%-10s longside %6.2f s (%4.0fx real time)   ffmpeg %6.2f s (%4.0fx)   ratio %s\n' "$kind" "$x" \
		"$(echo "$files * $seconds / $x" | bc -l)" "$y" "$(echo "$files * $seconds / $y" | bc -l)" "$(echo "scale=2; $x / $y" | bc)"
done

# The second time from the cache.
"$dir/longside" levels "$dir/flac" >/dev/null
t0=$(now); "$dir/longside" levels "$dir/flac" >/dev/null; t1=$(now)
printf 'again from the cache: %.3f s\n' "$(echo "$t1 - $t0" | bc)"
