#!/bin/sh
# Makes cmd/longside/default.pgo again: where the time goes when tracks are
# listened to. The go command finds the file by its name and builds longside
# with it: the bit reader of the FLAC decoder, called twice a sample through
# two layers, is then inlined. Worth making again when Go, a decoder or the
# meter changes.
#
#	sh testdata/levelsbench/profile.sh
set -eu
cd "$(dirname "$0")/../.."
dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT INT TERM
# -trimpath, so that the file holds no folder of the machine that made it; the name
# of the test binary is all that is left of one, and is written over at its length.
go test ./media -trimpath -run '^$' -bench '^BenchmarkListen$' -benchtime 5x -o "$dir/media.test" -cpuprofile "$dir/listen.prof"
go tool pprof -proto "$dir/media.test" "$dir/listen.prof" >"$dir/default.pgo" 2>/dev/null
gzip -dc "$dir/default.pgo" | DIR="$dir/" perl -pe 's/\Q$ENV{DIR}\E/"-" x length $ENV{DIR}/ge' | gzip -9n >cmd/longside/default.pgo
ls -l cmd/longside/default.pgo
