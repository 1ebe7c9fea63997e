package verify_test

import (
	"encoding/binary"
	"flag"
	"math"
	"os"
	"testing"

	"longside/media/verify"
)

var write = flag.String("write", "", "write the capture of the README's page to this WAV file")

// TestWriteEvening writes the capture that the README's page is made of; see
// testdata/README.md.
func TestWriteEvening(t *testing.T) {
	if *write == "" {
		t.Skip("nothing to write: -write names a file")
	}
	d := anEvening()
	cues, long, err := verify.Programme(d.zero)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(*write, wav(d.rate, d.play(cues, long.Seconds())), 0o666); err != nil {
		t.Fatal(err)
	}
}

// wav is samples as a WAV file of 16 bits.
func wav(rate int, x [][]float32) []byte {
	le := binary.LittleEndian
	n, c := len(x[0]), len(x)
	b := append([]byte("RIFF"), 0, 0, 0, 0)
	b = append(b, "WAVEfmt "...)
	b = le.AppendUint32(b, 16)
	b = le.AppendUint16(b, 1)
	b = le.AppendUint16(b, uint16(c))
	b = le.AppendUint32(b, uint32(rate))
	b = le.AppendUint32(b, uint32(rate*2*c))
	b = le.AppendUint16(b, uint16(2*c))
	b = le.AppendUint16(b, 16)
	b = append(b, "data"...)
	b = le.AppendUint32(b, uint32(2*n*c))
	for i := range n {
		for _, y := range x {
			b = le.AppendUint16(b, uint16(int16(math.Round(float64(y[i])*32767))))
		}
	}
	le.PutUint32(b[4:], uint32(len(b)-8))
	return b
}
