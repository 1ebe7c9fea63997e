package tape

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"strings"

	"github.com/pelletier/go-toml/v2"
)

// The first two lines of a deck file. A reader refuses any other format and
// any newer version.
const (
	DeckFormat  = "longside deck"
	DeckVersion = 1
)

// mostDeckFile is far more than a profile takes; a longer file is something else.
const mostDeckFile = 64 << 10

// deckFile is a Deck as it stands in its file, in the units that people read.
type deckFile struct {
	Format  string `toml:"format"`
	Version int    `toml:"version"`

	Name        string   `toml:"name,omitempty" comment:"your own word for it"`
	SpeedError  float64  `toml:"speed_error_pct" comment:"+ is fast; from a test tape's tone or a timed length"`
	SpeedWithin float64  `toml:"speed_within_pct" comment:"how far off that may be; 0: never measured"`
	Counter     string   `toml:"counter,omitempty" comment:"turns or time"`
	Ratio       float64  `toml:"counter_ratio,omitempty" comment:"counts for each turn of the take-up hub"`
	RatioWithin float64  `toml:"counter_ratio_within,omitempty"`
	LongestTape string   `toml:"longest_tape,omitempty" comment:"by its manual, such as C90"`
	Heads       int      `toml:"heads,omitempty" comment:"2 or 3"`
	AutoStop    string   `toml:"auto_stop,omitempty" comment:"none, lever or both hubs"`
	AutoReverse bool     `toml:"auto_reverse"`
	TurnRound   float64  `toml:"turn_round_s,omitempty" comment:"seconds without sound while it turns round"`
	Noise       []string `toml:"noise_reduction,omitempty" comment:"types it has, such as B and C"`
	MeterZero   int      `toml:"meter_zero_nwb_m,omitempty" comment:"flux at 0 dB: 160, 200 or 250"`
	Level       bool     `toml:"level_control" comment:"record calibration: level"`
	Bias        bool     `toml:"bias_control" comment:"record calibration: bias"`
}

// ParseDeck reads a profile from its file's bytes. Each line of the error is
// one fault, with the line of the file where it is known.
func ParseDeck(file []byte) (Deck, error) {
	if len(file) > mostDeckFile {
		return Deck{}, errors.New("too large for a deck profile; make one with longside deck")
	}
	if err := CheckTOML(file, deckFile{}, 100); err != nil {
		return Deck{}, err
	}
	var head struct {
		Format  string `toml:"format"`
		Version int    `toml:"version"`
	}
	// The first look asks only whose file it is, so that a newer version is
	// not blamed for fields that this one does not know.
	if err := toml.Unmarshal(file, &head); err != nil {
		return Deck{}, TOMLFault(err)
	}
	if head.Format != DeckFormat {
		return Deck{}, fmt.Errorf("no deck profile: its first line should be format = %q", DeckFormat)
	}
	if head.Version < 1 || head.Version > DeckVersion {
		return Deck{}, fmt.Errorf("a deck profile of version %d: this program reads version %d; use a newer one", head.Version, DeckVersion)
	}
	var f deckFile
	if err := toml.NewDecoder(bytes.NewReader(file)).DisallowUnknownFields().Decode(&f); err != nil {
		return Deck{}, TOMLFault(err)
	}
	d := Deck{
		Name: f.Name, SpeedError: f.SpeedError / 100, SpeedWithin: f.SpeedWithin / 100,
		Counting: Counting(strings.ToLower(f.Counter)), Ratio: f.Ratio, RatioWithin: f.RatioWithin,
		LongestTape: f.LongestTape, Heads: f.Heads, AutoStop: AutoStop(strings.ToLower(f.AutoStop)),
		AutoReverse: f.AutoReverse, TurnRound: duration(f.TurnRound), Noise: f.Noise,
		MeterZero: f.MeterZero, LevelControl: f.Level, BiasControl: f.Bias,
	}
	if err := d.Check(); err != nil {
		return Deck{}, err
	}
	return d, nil
}

// TOML is d as its file's bytes, to a thousandth of each unit. ParseDeck reads them back.
func (d Deck) TOML() ([]byte, error) {
	if err := d.Check(); err != nil {
		return nil, err
	}
	return toml.Marshal(deckFile{
		Format: DeckFormat, Version: DeckVersion,
		Name: d.Name, SpeedError: thousandth(100 * d.SpeedError), SpeedWithin: thousandth(100 * d.SpeedWithin),
		Counter: string(d.Counting), Ratio: thousandth(d.Ratio), RatioWithin: thousandth(d.RatioWithin),
		LongestTape: d.LongestTape, Heads: d.Heads, AutoStop: string(d.AutoStop),
		AutoReverse: d.AutoReverse, TurnRound: thousandth(d.TurnRound.Seconds()), Noise: d.Noise,
		MeterZero: d.MeterZero, Level: d.LevelControl, Bias: d.BiasControl,
	})
}

func thousandth(x float64) float64 { return math.Round(1000*x) / 1000 }

// TOMLFault puts the library's errors into our form: the line of the file
// first, then what is wrong there, one line each.
func TOMLFault(err error) error {
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) {
		var all []error
		for _, e := range strict.Errors {
			row, _ := e.Position()
			all = append(all, fmt.Errorf("line %d: %q is no field that this version knows", row, strings.Join(e.Key(), ".")))
		}
		return errors.Join(all...)
	}
	var decode *toml.DecodeError
	if errors.As(err, &decode) {
		row, _ := decode.Position()
		says := strings.TrimPrefix(decode.Error(), "toml: ")
		// A value of the wrong kind is told in the library's terms of Go types;
		// the field and the kind found are all that a person needs.
		if _, rest, ok := strings.Cut(says, "TOML "); ok && len(decode.Key()) > 0 {
			kind, _, _ := strings.Cut(rest, " into")
			says = fmt.Sprintf("%q cannot be of kind %s", strings.Join(decode.Key(), "."), kind)
		}
		return fmt.Errorf("line %d: %s", row, says)
	}
	return errors.New(strings.TrimPrefix(err.Error(), "toml: "))
}
