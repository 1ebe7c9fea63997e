package shelf

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"longside/planner/tape"
)

// mostFile bounds what is read into memory, in bytes, and mostTables the tapes
// with what each was measured and recorded with.
const (
	mostFile   = 8 << 20
	mostTables = 20_000
)

// heading stands at the top of the file for those who open it.
const heading = `# The tapes on your shelf, kept by longside. It may be changed by hand while no
# longside runs; longside writes it anew, so remarks like this one are not kept.
# A calibration holds what came back off tape with the controls at centre: 400 Hz
# against the source, 10 kHz against 400 Hz; the shortfall is what 400 Hz still
# lacks with the level control at its end.
`

// file is a Shelf as it stands in its file, in the units that people read.
type file struct {
	Format  string      `toml:"format"`
	Version int         `toml:"version"`
	Tapes   []fileEntry `toml:"tape,omitempty"`
}

type fileEntry struct {
	Label        string        `toml:"label"`
	Name         string        `toml:"name"`
	Type         string        `toml:"type,omitempty"`
	Year         int           `toml:"year,omitempty"`
	Condition    string        `toml:"condition,omitempty"`
	Side         string        `toml:"measured_side,omitempty"` // m:ss.s
	Thickness    float64       `toml:"measured_thickness_um,omitempty"`
	Hub          float64       `toml:"measured_hub_radius_mm,omitempty"`
	Wound        bool          `toml:"wound,omitempty"`
	PlayedWell   bool          `toml:"played_well,omitempty"`
	Booked       *Booking      `toml:"booked,omitempty"`
	Calibrations []Calibration `toml:"calibration,omitempty"`
	Recorded     []Recording   `toml:"recorded,omitempty"`
}

// Parse reads a shelf from its file's bytes. Each line of the error is one
// fault, with the line of the file where it is known.
func Parse(data []byte) (Shelf, error) {
	if len(data) > mostFile {
		return Shelf{}, fmt.Errorf("larger than %d MB: that is no shelf", mostFile>>20)
	}
	if err := tape.CheckTOML(data, file{}, mostTables); err != nil {
		return Shelf{}, err
	}
	var head struct {
		Format  string `toml:"format"`
		Version int    `toml:"version"`
	}
	// The first look asks only whose file it is, so that a newer version is
	// not blamed for fields that this one does not know.
	if err := toml.Unmarshal(data, &head); err != nil {
		return Shelf{}, tape.TOMLFault(err)
	}
	if head.Format != Format {
		return Shelf{}, fmt.Errorf("no shelf: its first line should be format = %q", Format)
	}
	if head.Version < 1 || head.Version > Version {
		return Shelf{}, fmt.Errorf("a shelf of version %d: this program reads version %d; use a newer one", head.Version, Version)
	}
	var f file
	if err := toml.NewDecoder(bytes.NewReader(data)).DisallowUnknownFields().Decode(&f); err != nil {
		return Shelf{}, tape.TOMLFault(err)
	}
	var s Shelf
	for _, e := range f.Tapes {
		side, err := parseSide(e.Side)
		if err != nil {
			return Shelf{}, fmt.Errorf("tape %q: %w", e.Label, err)
		}
		s.Tapes = append(s.Tapes, Entry{
			Label: e.Label, Name: e.Name, Type: strings.ToUpper(e.Type), Year: e.Year, Condition: tape.Condition(strings.ToLower(e.Condition)),
			Side: side, Thickness: tape.Micrometres(e.Thickness), Hub: tape.Millimetres(e.Hub),
			Wound: e.Wound, PlayedWell: e.PlayedWell,
			Calibrations: e.Calibrations, Recorded: e.Recorded, Booked: e.Booked,
		})
	}
	if err := s.Check(); err != nil {
		return Shelf{}, err
	}
	return s, nil
}

// TOML is the shelf as its file's bytes. Parse reads them back, with times to
// a tenth of a second and lengths to a hundredth.
func (s Shelf) TOML() ([]byte, error) {
	if err := s.Check(); err != nil {
		return nil, err
	}
	f := file{Format: Format, Version: Version}
	for _, e := range s.Tapes {
		f.Tapes = append(f.Tapes, fileEntry{
			Label: e.Label, Name: e.Name, Type: e.Type, Year: e.Year, Condition: string(e.Condition),
			Side: side(e.Side), Thickness: hundredth(float64(e.Thickness)), Hub: hundredth(float64(e.Hub)),
			Wound: e.Wound, PlayedWell: e.PlayedWell,
			Calibrations: e.Calibrations, Recorded: e.Recorded, Booked: e.Booked,
		})
	}
	body, err := toml.Marshal(f)
	if err != nil {
		return nil, err
	}
	return append([]byte(heading), body...), nil
}

func hundredth(x float64) float64 { return math.Round(100*x) / 100 }

// side writes a side's time as m:ss.s; nothing for 0.
func side(d time.Duration) string {
	if d == 0 {
		return ""
	}
	tenths := int64(d.Round(100*time.Millisecond) / (100 * time.Millisecond))
	return fmt.Sprintf("%d:%02d.%d", tenths/600, tenths/10%60, tenths%10)
}

// parseSide is the reverse of side.
func parseSide(s string) (time.Duration, error) {
	if s == "" {
		return 0, nil
	}
	m, rest, ok := strings.Cut(s, ":")
	minutes, err := strconv.ParseUint(m, 10, 16)
	seconds, err2 := strconv.ParseFloat(rest, 64)
	if !ok || err != nil || err2 != nil || !(seconds >= 0 && seconds < 60) {
		return 0, fmt.Errorf("a side of %q: write minutes and seconds, as 46:12", s)
	}
	return time.Duration(minutes)*time.Minute + time.Duration(math.Round(seconds*10))*100*time.Millisecond, nil
}
