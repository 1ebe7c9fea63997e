package main

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"strconv"
	"strings"
	"unicode/utf16"
)

// riff writes a WAVE file: the fmt chunk, a LIST INFO chunk with the tags and
// the samples (8 bits are unsigned, by the format's rule).
func riff(t track, samples []int, bits, total int) []byte {
	le := binary.LittleEndian
	var format, data, info []byte
	align := t.Channels * bits / 8
	format = le.AppendUint16(format, 1) // PCM
	format = le.AppendUint16(format, uint16(t.Channels))
	format = le.AppendUint32(format, uint32(t.Rate))
	format = le.AppendUint32(format, uint32(t.Rate*align)) // bytes a second
	format = le.AppendUint16(format, uint16(align))
	format = le.AppendUint16(format, uint16(bits))
	for _, s := range samples {
		if bits == 8 {
			data = append(data, byte(s+128))
		} else {
			data = le.AppendUint16(data, uint16(int16(s)))
		}
	}
	info = append(info, "INFO"...)
	for _, kv := range [][2]string{
		{"INAM", t.Title}, {"IART", t.Artist}, {"IPRD", Album},
		{"ITRK", fmt.Sprintf("%d/%d", t.Number, total)}, {"ICRD", strconv.Itoa(t.Year)}, {"IGNR", t.Genre},
	} {
		info = append(info, chunk(kv[0], append([]byte(kv[1]), 0))...)
	}
	body := append([]byte("WAVE"), chunk("fmt ", format)...)
	body = append(body, chunk("LIST", info)...)
	body = append(body, chunk("data", data)...)
	return chunk("RIFF", body)
}

// chunk is a RIFF chunk, padded to an even size.
func chunk(id string, body []byte) []byte {
	out := binary.LittleEndian.AppendUint32([]byte(id), uint32(len(body)))
	out = append(out, body...)
	if len(body)%2 == 1 {
		out = append(out, 0)
	}
	return out
}

// comments are the Vorbis comments of a FLAC file.
func comments(t track, total int) []string {
	return []string{
		"TITLE=" + t.Title, "ARTIST=" + t.Artist, "ALBUM=" + Album,
		"TRACKNUMBER=" + strconv.Itoa(t.Number), "TRACKTOTAL=" + strconv.Itoa(total),
		"DATE=" + strconv.Itoa(t.Year), "GENRE=" + t.Genre,
	}
}

// tagMP3 puts an ID3v2 tag before the frames, and an ID3v1 tag after them
// where the row asks for one.
func tagMP3(t track, total int, frames []byte) []byte {
	v4 := strings.Contains(t.Tags, "id3v2.4")
	year := "TYER"
	if v4 {
		year = "TDRC"
	}
	var body []byte
	for _, kv := range [][2]string{
		{"TIT2", t.Title}, {"TPE1", t.Artist}, {"TALB", Album},
		{"TRCK", fmt.Sprintf("%d/%d", t.Number, total)}, {year, strconv.Itoa(t.Year)}, {"TCON", t.Genre},
	} {
		text := append([]byte{3}, kv[1]...) // 3: UTF-8
		size := uint32(len(text))
		if v4 {
			size = syncsafe(size)
		} else {
			text = []byte{1, 0xFF, 0xFE} // 1: UTF-16 with its order mark
			for _, u := range utf16.Encode([]rune(kv[1])) {
				text = binary.LittleEndian.AppendUint16(text, u)
			}
			size = uint32(len(text))
		}
		body = append(body, kv[0]...)
		body = binary.BigEndian.AppendUint32(body, size)
		body = append(body, 0, 0) // flags
		body = append(body, text...)
	}
	body = append(body, make([]byte, 64)...) // padding, as most taggers leave
	version := byte(3)
	if v4 {
		version = 4
	}
	out := []byte{'I', 'D', '3', version, 0, 0}
	out = binary.BigEndian.AppendUint32(out, syncsafe(uint32(len(body))))
	out = append(append(out, body...), frames...)
	if strings.Contains(t.Tags, "id3v1") {
		out = append(out, id3v1(t)...)
	}
	return out
}

// syncsafe spreads a size over four bytes of seven bits.
func syncsafe(n uint32) uint32 {
	return n&0x7F | n<<1&0x7F00 | n<<2&0x7F0000 | n<<3&0x7F000000
}

// id3v1 is the 128-byte tag of old players, with the track number of its
// version 1.1 and Latin-1 text.
func id3v1(t track) []byte {
	var b bytes.Buffer
	field := func(s string, width int) {
		f := make([]byte, width)
		i := 0
		for _, r := range s {
			if i < width && r < 256 {
				f[i] = byte(r)
				i++
			}
		}
		b.Write(f)
	}
	b.WriteString("TAG")
	field(t.Title, 30)
	field(t.Artist, 30)
	field(Album, 30)
	field(strconv.Itoa(t.Year), 4)
	field("", 28)
	b.Write([]byte{0, byte(t.Number), 255}) // 255: no genre of the list
	return b.Bytes()
}
