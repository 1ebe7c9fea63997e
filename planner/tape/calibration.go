package tape

import (
	"fmt"
	"math"
)

// Calibration is how a deck's record calibration came out on a tape. 0 is what a
// tape gives that suits the deck, and is also written where nothing was read.
type Calibration struct {
	Deck      string  `json:"deck,omitempty"`         // the deck's name; empty: not said
	Level400  float64 `json:"level_400hz_db"`         // 400 Hz off tape against the source, controls at centre
	Bias10k   float64 `json:"bias_10khz_db"`          // 10 kHz off tape against 400 Hz, controls at centre
	Shortfall float64 `json:"shortfall_db,omitempty"` // what 400 Hz still lacks with the level control at its end, as a positive number
}

// Bounds of what is said of bias, dB of 10 kHz against 400 Hz: our own choice.
const (
	biasRight  = 0.5 // nearer than this is right
	biasLittle = 2.0 // nearer than this takes a little
)

// Bias says which way the bias goes from its centre, one phrase; empty where
// 10 kHz was not read. Less bias brings more treble.
func (c Calibration) Bias() string {
	if c.Bias10k == 0 {
		return ""
	}
	says := fmt.Sprintf("10 kHz came back %.1f dB under 400 Hz", -c.Bias10k)
	if c.Bias10k > 0 {
		says = fmt.Sprintf("10 kHz came back %.1f dB over 400 Hz", c.Bias10k)
	}
	way := "less"
	if c.Bias10k > 0 {
		way = "more"
	}
	switch off := math.Abs(c.Bias10k); {
	case off < biasRight:
		return "bias at its centre (" + says + ")"
	case off < biasLittle:
		return "a little " + way + " bias than the centre (" + says + ")"
	}
	return way + " bias than the centre (" + says + ")"
}

// Level says what 400 Hz reaches off the tape, and so what to aim at, one phrase;
// empty where it reaches 0 dB.
func (c Calibration) Level() string {
	if !(c.Shortfall > 0) {
		return ""
	}
	return fmt.Sprintf("with the level control at its end 400 Hz reaches %.1f dB off the tape: aim at that, not at 0 dB", -c.Shortfall)
}
