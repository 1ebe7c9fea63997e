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

# Sound that keeps a meter busy: chords, a beat of noise, levels that change.
mkdir "$dir/wav" "$dir/flac" "$dir/ogg" "$dir/mp3" "$dir/joint"
i=0
while [ "$i" -lt "$files" ]; do
	sox -n -r 44100 -c 2 -b 16 "$dir/wav/$i.wav" synth "$seconds" \
		sine $((200 + 17 * i)) sine $((301 + 11 * i)) tremolo 0.3 60 \
		gain -9 2>/dev/null
	sox -n -r 44100 -c 2 -b 16 "$dir/noise.wav" synth "$seconds" pinknoise tremolo 2 95 gain -12 2>/dev/null
	sox -m "$dir/wav/$i.wav" "$dir/noise.wav" -b 16 "$dir/mix.wav" gain -n -1 2>/dev/null
	mv "$dir/mix.wav" "$dir/wav/$i.wav"
	flac -s -5 -o "$dir/flac/$i.flac" "$dir/wav/$i.wav"
	oggenc -Q -q 5 -o "$dir/ogg/$i.ogg" "$dir/wav/$i.wav"
	# Plain stereo is go-mp3's; joint stereo with sharp attacks goes to ffmpeg.
	lame --quiet -m s -V 2 "$dir/wav/$i.wav" "$dir/mp3/$i.mp3"
	i=$((i + 1))
done
rm -f "$dir/noise.wav"

now() { date +%s.%N; }
ours() { "$dir/longside" levels "$1" --no-cache >/dev/null; }
theirs() {
	find "$1" -type f -print0 | xargs -0 -n 1 -P "$cores" \
		sh -c 'ffmpeg -nostats -hide_banner -i "$0" -af ebur128=peak=true -f null - >/dev/null 2>&1'
}
printf '%s files of %s s, %s cores\n' "$files" "$seconds" "$cores"
for kind in wav flac ogg mp3; do
	a= b=
	for turn in 1 2 3; do
		t0=$(now); ours "$dir/$kind"; t1=$(now); theirs "$dir/$kind"; t2=$(now)
		a="$a $(echo "$t1 - $t0" | bc)"
		b="$b $(echo "$t2 - $t1" | bc)"
	done
	best() { printf '%s\n' "$@" | sort -n | head -1; }
	# shellcheck disable=SC2086
	x=$(best $a) y=$(best $b)
	printf '%-5s longside %6.2f s (%4.0fx real time)   ffmpeg %6.2f s (%4.0fx)   ratio %s\n' "$kind" "$x" \
		"$(echo "$files * $seconds / $x" | bc -l)" "$y" "$(echo "$files * $seconds / $y" | bc -l)" "$(echo "scale=2; $x / $y" | bc)"
done

# The second time from the cache.
"$dir/longside" levels "$dir/flac" >/dev/null
t0=$(now); "$dir/longside" levels "$dir/flac" >/dev/null; t1=$(now)
printf 'again from the cache: %.3f s\n' "$(echo "$t1 - $t0" | bc)"
