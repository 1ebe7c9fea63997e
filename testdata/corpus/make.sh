#!/bin/sh
# Makes the corpus that the length tests read: sounds of known sample counts, in
# every container that we read, by public encoders. Nothing is downloaded.
#
#	testdata/corpus/make.sh DIR
#
# DIR/corpus.tsv then names each file, its sample rate and the samples a channel
# of the sound that it was made from. Needs sox, flac, metaflac, lame, oggenc, opusenc, ffmpeg.
set -eu
out=$1
mkdir -p "$out"
cd "$out"
list=corpus.tsv
: > $list

# sound NAME RATE CHANNELS BITS SAMPLES: a tone and some noise, exactly so long.
sound() {
	sox -D -R -r "$2" -c "$3" -n -b "$4" "$1.wav" synth "${5}s" sine 440 synth "${5}s" pinknoise mix gain -6 2>/dev/null
	echo "$1.wav $2 $5" >> $list
}
# has NAME RATE SAMPLES: a file is in the list.
has() { echo "$1 $2 $3" >> $list; }
ff() { ffmpeg -v error -nostdin -y "$@"; }
lm() { lame --silent "$@" 2>/dev/null; }

# Odd counts: none is a whole number of frames of any codec.
sound s44 44100 2 16 112345
sound m44 44100 1 16 97531
sound s48 48000 2 16 120007
sound s32 32000 2 16 80003
sound s24 24000 2 16 60013
sound s22 22050 2 16 55117
sound s16 16000 1 16 40009
sound s12 12000 1 16 30011
sound s11 11025 1 16 27583
sound s8 8000 1 16 20011
sound hi 96000 2 24 200003
sound tiny 44100 2 16 100
sound one 44100 1 16 1
sound long 44100 2 16 1323001

# --- MPEG audio -------------------------------------------------------------
for b in 32 64 128 192 320; do lm --cbr -b $b --resample 44.1 s44.wav lame-cbr$b.mp3; has lame-cbr$b.mp3 44100 112345; done
for v in 0 2 5 9; do lm -V$v --resample 44.1 s44.wav lame-v$v.mp3; has lame-v$v.mp3 44100 112345; done
for a in 96 160; do lm --abr $a --resample 44.1 s44.wav lame-abr$a.mp3; has lame-abr$a.mp3 44100 112345; done
lm --cbr -b 64 m44.wav lame-mono.mp3; has lame-mono.mp3 44100 97531
lm --cbr -b 128 -p s44.wav lame-crc.mp3; has lame-crc.mp3 44100 112345
lm -V4 -p s44.wav lame-v4-crc.mp3; has lame-v4-crc.mp3 44100 112345
lm --cbr -b 128 -m s s44.wav lame-stereo.mp3; has lame-stereo.mp3 44100 112345
lm --cbr -b 160 s48.wav lame-48k.mp3; has lame-48k.mp3 48000 120007
lm --cbr -b 96 s32.wav lame-32k.mp3; has lame-32k.mp3 32000 80003
for r in 24 22 16; do
	case $r in 24) n=60013 hz=24000 k=24 ;; 22) n=55117 hz=22050 k=22.05 ;; 16) n=40009 hz=16000 k=16 ;; esac
	f=s$r.wav
	lm --cbr -b 48 --resample $k $f lame-mpeg2-${r}k.mp3; has lame-mpeg2-${r}k.mp3 $hz $n
	lm -V5 --resample $k $f lame-mpeg2-${r}k-v5.mp3; has lame-mpeg2-${r}k-v5.mp3 $hz $n
done
for r in 12 11 8; do
	case $r in 12) n=30011 hz=12000 k=12 ;; 11) n=27583 hz=11025 k=11.025 ;; 8) n=20011 hz=8000 k=8 ;; esac
	lm --cbr -b 16 --resample $k s$r.wav lame-mpeg25-${r}k.mp3; has lame-mpeg25-${r}k.mp3 $hz $n
	lm --cbr -b 24 --resample $k -t s$r.wav lame-mpeg25-${r}k-notag.mp3; has lame-mpeg25-${r}k-notag.mp3 $hz $n
done
lm --cbr -b 128 -t s44.wav lame-cbr-notag.mp3; has lame-cbr-notag.mp3 44100 112345
lm -V2 -t s44.wav lame-vbr-notag.mp3; has lame-vbr-notag.mp3 44100 112345
lm --freeformat -b 400 s44.wav lame-free.mp3; has lame-free.mp3 44100 112345
lm --cbr -b 128 tiny.wav lame-tiny.mp3; has lame-tiny.mp3 44100 100
lm --cbr -b 64 one.wav lame-one.mp3; has lame-one.mp3 44100 1
lm -V4 long.wav lame-long.mp3; has lame-long.mp3 44100 1323001
for b in 64 192; do ff -i s44.wav -c:a libmp3lame -b:a ${b}k ff-cbr$b.mp3; has ff-cbr$b.mp3 44100 112345; done
ff -i s44.wav -c:a libmp3lame -q:a 3 ff-vbr.mp3; has ff-vbr.mp3 44100 112345
ff -i s44.wav -c:a libmp3lame -b:a 128k -write_xing 0 ff-noxing.mp3; has ff-noxing.mp3 44100 112345
ff -i s44.wav -c:a libmp3lame -b:a 128k -id3v2_version 0 ff-noid3.mp3; has ff-noid3.mp3 44100 112345
ff -i s44.wav -c:a mp2 -b:a 192k ff-layer2.mp2; has ff-layer2.mp2 44100 112345
ff -i s22.wav -c:a mp2 -b:a 64k ff-layer2-lsf.mp2; has ff-layer2-lsf.mp2 22050 55117
ff -i s44.wav -c:a libmp3lame -b:a 128k mp3-in.wav; has mp3-in.wav 44100 112345
# tags: large, several in a row, at the end, of every kind
lm --cbr -b 128 --id3v2-only --pad-id3v2-size 100000 --tt Fog s44.wav tag-large.mp3; has tag-large.mp3 44100 112345
lm --cbr -b 128 --id3v1-only --tt Buoy s44.wav tag-v1.mp3; has tag-v1.mp3 44100 112345
# two ID3v2 tags: an empty one (10 bytes of header and 20 of nothing) in front of another
{ printf 'ID3\003\000\000\000\000\000\024'; head -c 20 /dev/zero; cat tag-large.mp3; } > tag-twice.mp3; has tag-twice.mp3 44100 112345
# APE, Lyrics3 and ID3v1 at the end, one after another
{
	cat lame-v2.mp3
	printf 'APETAGEX\320\007\000\000\067\000\000\000\001\000\000\000\000\000\000\200\000\000\000\000\000\000\000\000'
	printf '\006\000\000\000\000\000\000\000Title\000Anchor\000\000\000'
	printf 'APETAGEX\320\007\000\000\067\000\000\000\001\000\000\000\000\000\000\200\000\000\000\000\000\000\000\000'
} > tag-ape.mp3; has tag-ape.mp3 44100 112345
{ cat lame-v2.mp3; printf 'LYRICSBEGINLYR00005la la000024LYRICS200'; } > tag-lyrics.mp3; has tag-lyrics.mp3 44100 112345
{ cat lame-v2.mp3; printf 'LYRICSBEGIN[00:01]la la\r\nlaLYRICSEND'; printf 'TAG%0125d' 0; } > tag-lyrics1.mp3; has tag-lyrics1.mp3 44100 112345
{ cat tag-lyrics.mp3; printf 'TAG'; head -c 125 /dev/zero; } > tag-lyrics-v1.mp3; has tag-lyrics-v1.mp3 44100 112345
{ head -c 3000 /dev/zero; cat lame-v5.mp3; } > junk-front.mp3; has junk-front.mp3 44100 112345
# damaged on purpose: what is heard is less, or more, than the header says
head -c 20000 lame-cbr128.mp3 > hurt-cut.mp3; has hurt-cut.mp3 44100 112345
cat lame-cbr128.mp3 lame-v2.mp3 > hurt-joined.mp3; has hurt-joined.mp3 44100 224690
# the number of frames in the Xing field (bytes 8 to 11 after "Xing" or "Info") overwritten
{ head -c 44 lame-cbr128.mp3; printf '\000\000\377\377'; tail -c +49 lame-cbr128.mp3; } > hurt-lying.mp3; has hurt-lying.mp3 44100 112345
{ head -c 20000 lame-v2.mp3; head -c 700 /dev/zero; tail -c +20001 lame-v2.mp3; } > hurt-hole.mp3; has hurt-hole.mp3 44100 112345

# --- FLAC ---------------------------------------------------------------------
for l in 0 5 8; do flac -s -f -$l s44.wav -o flac-$l.flac; has flac-$l.flac 44100 112345; done
flac -s -f m44.wav -o flac-mono.flac; has flac-mono.flac 44100 97531
flac -s -f hi.wav -o flac-hi.flac; has flac-hi.flac 96000 200003
flac -s -f s8.wav -o flac-8k.flac; has flac-8k.flac 8000 20011
flac -s -f -b 16384 --lax s44.wav -o flac-large-blocks.flac; has flac-large-blocks.flac 44100 112345
flac -s -f -b 192 s44.wav -o flac-small-blocks.flac; has flac-small-blocks.flac 44100 112345
flac -s -f tiny.wav -o flac-tiny.flac; has flac-tiny.flac 44100 100
flac -s -f long.wav -o flac-long.flac; has flac-long.flac 44100 1323001
flac -s -f - < s44.wav > flac-piped.flac; has flac-piped.flac 44100 112345
sox s44.wav -t raw - | flac -s -f --force-raw-format --endian=little --sign=signed --channels=2 --bps=16 --sample-rate=44100 -c - > flac-nototal.flac; has flac-nototal.flac 44100 112345
flac -s -f --no-padding --no-seektable s44.wav -o flac-bare.flac; has flac-bare.flac 44100 112345
flac -s -f --padding=200000 s44.wav -o flac-padded.flac; has flac-padded.flac 44100 112345
ff -i s44.wav -c:a flac -sample_fmt s32 flac-ff24.flac; has flac-ff24.flac 44100 112345
sox -D s44.wav -b 8 tmp8.wav 2>/dev/null; flac -s -f tmp8.wav -o flac-8bit.flac; has flac-8bit.flac 44100 112345
ff -i s44.wav -af 'pan=5.1|c0=c0|c1=c1|c2=c0|c3=c1|c4=c0|c5=c1' -c:a flac flac-six.flac; has flac-six.flac 44100 112345
{ printf 'ID3\003\000\000\000\000\000\024'; head -c 20 /dev/zero; cat flac-5.flac; } > flac-id3.flac; has flac-id3.flac 44100 112345
{ cat flac-5.flac; printf 'TAG'; head -c 125 /dev/zero; } > flac-id3v1.flac; has flac-id3v1.flac 44100 112345
head -c 100000 flac-5.flac > hurt-cut.flac; has hurt-cut.flac 44100 112345
flac -s -f --ogg s44.wav -o flac.oga; has flac.oga 44100 112345
flac -s -f --ogg long.wav -o flac-long.oga; has flac-long.oga 44100 1323001
ff -i s44.wav -c:a flac -f ogg flac-ff.oga; has flac-ff.oga 44100 112345

# --- WAV, AIFF ------------------------------------------------------------------
for e in 'u8 pcm_u8' 's24 pcm_s24le' 's32 pcm_s32le' 'f32 pcm_f32le' 'f64 pcm_f64le' 'alaw pcm_alaw' 'ulaw pcm_mulaw'; do
	set -- $e; ff -i s44.wav -c:a $2 wav-$1.wav; has wav-$1.wav 44100 112345
done
sox -D s44.wav -b 24 -e signed wav-extensible.wav 2>/dev/null; has wav-extensible.wav 44100 112345
ff -i s44.wav -rf64 always wav-rf64.wav; has wav-rf64.wav 44100 112345
ff -i s44.wav -f wav - > wav-streamed.wav; has wav-streamed.wav 44100 112345
sox s44.wav -t wav - 2>/dev/null | cat > wav-sox-piped.wav; has wav-sox-piped.wav 44100 112345
ff -i s44.wav -metadata title=Fog -metadata artist=Crew wav-info.wav; has wav-info.wav 44100 112345
ff -i s44.wav -c:a adpcm_ima_wav wav-ima.wav; has wav-ima.wav 44100 112345
ff -i s44.wav -c:a adpcm_ms wav-ms.wav; has wav-ms.wav 44100 112345
ff -i s44.wav -af 'pan=5.1|c0=c0|c1=c1|c2=c0|c3=c1|c4=c0|c5=c1' wav-six.wav; has wav-six.wav 44100 112345
head -c 200001 s44.wav > hurt-cut.wav; has hurt-cut.wav 44100 112345
sox s44.wav aiff-16.aiff; has aiff-16.aiff 44100 112345
sox -D hi.wav aiff-24.aiff; has aiff-24.aiff 96000 200003
sox -D s8.wav -b 8 aiff-8.aiff; has aiff-8.aiff 8000 20011
sox s44.wav aifc-16.aifc; has aifc-16.aifc 44100 112345
for e in 'sowt pcm_s16le' 'alaw pcm_alaw' 'f32 pcm_f32be' 'f64 pcm_f64be' 'ima4 adpcm_ima_qt'; do
	set -- $e; ff -i s44.wav -c:a $2 -f aiff aifc-$1.aifc; has aifc-$1.aifc 44100 112345
done
head -c 200001 aiff-16.aiff > hurt-cut.aiff; has hurt-cut.aiff 44100 112345

# --- Ogg --------------------------------------------------------------------------
for q in 0 5 10; do oggenc -Q -s $q -q$q s44.wav -o vorbis-q$q.ogg; has vorbis-q$q.ogg 44100 112345; done
oggenc -Q m44.wav -o vorbis-mono.ogg; has vorbis-mono.ogg 44100 97531
oggenc -Q s8.wav -o vorbis-8k.ogg; has vorbis-8k.ogg 8000 20011
oggenc -Q tiny.wav -o vorbis-tiny.ogg; has vorbis-tiny.ogg 44100 100
oggenc -Q long.wav -o vorbis-long.ogg; has vorbis-long.ogg 44100 1323001
oggenc -Q --managed -b 96 s44.wav -o vorbis-managed.ogg; has vorbis-managed.ogg 44100 112345
ff -i s44.wav -c:a libvorbis vorbis-ff.ogg; has vorbis-ff.ogg 44100 112345
cat vorbis-q0.ogg vorbis-q5.ogg > vorbis-chained.ogg; has vorbis-chained.ogg 44100 224690
cat vorbis-q0.ogg vorbis-q0.ogg vorbis-q0.ogg vorbis-q0.ogg vorbis-q0.ogg > vorbis-five.ogg; has vorbis-five.ogg 44100 561725
head -c 15000 vorbis-q5.ogg > hurt-cut.ogg; has hurt-cut.ogg 44100 112345
for b in 16 64 160; do opusenc --quiet --serial $b --bitrate $b s48.wav opus-$b.opus; has opus-$b.opus 48000 120007; done
for f in 2.5 5 10 40 60; do opusenc --quiet --framesize $f s48.wav opus-frame$f.opus; has opus-frame$f.opus 48000 120007; done
opusenc --quiet tiny.wav opus-tiny.opus 2>/dev/null; has opus-tiny.opus 48000 109
# 112345 samples at 44.1 kHz are 122280.3 at 48 kHz: the encoder rounds up
opusenc --quiet s44.wav opus-44.opus; has opus-44.opus 48000 122281
sox -D long.wav -r 48000 tmp48.wav trim 0s 1440001s 2>/dev/null; opusenc --quiet tmp48.wav opus-long.opus; has opus-long.opus 48000 1440001
ff -i s48.wav -c:a libopus opus-ff.opus; has opus-ff.opus 48000 120007
ff -i s48.wav -c:a libopus -f ogg opus-ff.ogg; has opus-ff.ogg 48000 120007
cat opus-16.opus opus-64.opus > opus-chained.opus; has opus-chained.opus 48000 240014

# --- MPEG-4 -----------------------------------------------------------------------
for b in 64 160; do ff -i s44.wav -c:a aac -b:a ${b}k aac-$b.m4a; has aac-$b.m4a 44100 112345; done
ff -i s48.wav -c:a aac aac-48k.m4a; has aac-48k.m4a 48000 120007
ff -i s22.wav -c:a aac aac-22k.m4a; has aac-22k.m4a 22050 55117
ff -i tiny.wav -c:a aac aac-tiny.m4a; has aac-tiny.m4a 44100 100
ff -i long.wav -c:a aac -movflags +faststart aac-faststart.m4a; has aac-faststart.m4a 44100 1323001
ff -i long.wav -c:a aac -movflags frag_keyframe+empty_moov -frag_duration 1000000 aac-fragmented.m4a; has aac-fragmented.m4a 44100 1323001
ff -i long.wav -c:a aac -movflags frag_keyframe+delay_moov -frag_duration 1000000 aac-fragmented-edit.m4a; has aac-fragmented-edit.m4a 44100 1323001
ff -i s44.wav -c:a aac -use_editlist 0 aac-noedit.m4a; has aac-noedit.m4a 44100 112345
ff -i s44.wav -c:a aac -movie_timescale 90000 aac-90k.m4a; has aac-90k.m4a 44100 112345
ff -i s44.wav -c:a aac -f adts aac-raw.aac; has aac-raw.aac 44100 112345
ff -i s44.wav -c:a alac alac-16.m4a; has alac-16.m4a 44100 112345
ff -i hi.wav -c:a alac alac-24.m4a; has alac-24.m4a 96000 200003
ff -i s44.wav -c:a flac -strict -2 -f mp4 flac-in.m4a; has flac-in.m4a 44100 112345
ff -i s48.wav -c:a libopus -f mp4 opus-in.m4a; has opus-in.m4a 48000 120007
ff -i s44.wav -c:a libmp3lame -f mp4 mp3-in.m4a; has mp3-in.m4a 44100 112345
head -c 100000 aac-faststart.m4a > hurt-cut.m4a; has hurt-cut.m4a 44100 1323001
head -c 100000 aac-fragmented.m4a > hurt-cut-fragmented.m4a; has hurt-cut-fragmented.m4a 44100 1323001

# --- one very short file of each kind, for the tests that cut and change every byte
flac -s -f --no-padding --no-seektable tiny.wav -o tiny.flac; has tiny.flac 44100 100
flac -s -f --no-padding --no-seektable --ogg tiny.wav -o tiny.oga; has tiny.oga 44100 100
sox tiny.wav tiny.aiff; has tiny.aiff 44100 100
ff -i tiny.wav -c:a pcm_f32be tiny.aifc; has tiny.aifc 44100 100
ff -i tiny.wav -rf64 always tiny-rf64.wav; has tiny-rf64.wav 44100 100
ff -i tiny.wav -c:a alac tiny-alac.m4a; has tiny-alac.m4a 44100 100
ff -i tiny.wav -c:a aac -movflags frag_keyframe+empty_moov tiny-fragmented.m4a; has tiny-fragmented.m4a 44100 100
ff -i tiny.wav -c:a aac -f adts tiny.aac; has tiny.aac 44100 100
ff -i tiny.wav -c:a mp2 tiny.mp2; has tiny.mp2 44100 100
ff -i tiny.wav -c:a adpcm_ima_wav tiny-ima.wav; has tiny-ima.wav 44100 100
lm --freeformat -b 400 tiny.wav tiny-free.mp3; has tiny-free.mp3 44100 100

rm -f tmp8.wav tmp48.wav
