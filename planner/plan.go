package planner

import (
	"encoding/json"
	"fmt"
	"math"
	"time"

	"longside/media"
	"longside/planner/tape"
)

// Format and Version are the first two fields of a plan file. A reader
// refuses any other format and any newer version.
const (
	Format  = "longside plan"
	Version = 1
)

// Seconds is a length of time that is written as seconds with decimals in
// JSON (fields named _s).
type Seconds time.Duration

// D is s as a time.Duration.
func (s Seconds) D() time.Duration { return time.Duration(s) }

// MarshalJSON writes seconds, to the millisecond.
func (s Seconds) MarshalJSON() ([]byte, error) {
	ms := time.Duration(s).Round(time.Millisecond).Milliseconds()
	return json.Marshal(float64(ms) / 1000)
}

// maxSeconds bounds what a plan file may claim: a year holds no tape.
const maxSeconds = 366 * 24 * 3600

// UnmarshalJSON reads seconds; a number that no tape could hold is refused.
func (s *Seconds) UnmarshalJSON(b []byte) error {
	var f float64
	if err := json.Unmarshal(b, &f); err != nil {
		return fmt.Errorf("%s is no number of seconds", b)
	}
	if math.IsNaN(f) || math.Abs(f) > maxSeconds {
		return fmt.Errorf("%s s is out of range", b)
	}
	*s = Seconds(math.Round(f*1000) * float64(time.Millisecond))
	return nil
}

// Plan is what to record: which track on which side of which tape, in what
// order and when. It is plain values, the same as the plan file (plan.json).
type Plan struct {
	Format  string `json:"format"`
	Version int    `json:"version"`

	Title string `json:"title"` // the tape's name, for spine and sheet
	Note  string `json:"note,omitempty"`

	Fits   bool `json:"fits"`   // every wanted track has a place
	Proved bool `json:"proved"` // no better answer exists
	// WithinSongs and WithinS are, when it is not proved, the most by which the
	// best possible can keep more songs and more seconds of programme; 0 where
	// no more can be kept.
	WithinSongs int     `json:"within_songs,omitempty"`
	WithinS     Seconds `json:"within_s"`
	Cut         bool    `json:"cut,omitempty"` // the search was stopped early
	// AtLeast is a number of tapes that what is kept cannot do without.
	AtLeast int `json:"at_least_tapes,omitempty"`

	Tapes   []Tape   `json:"tapes"`
	LeftOut []Track  `json:"left_out"`
	Moved   []string `json:"moved,omitempty"` // titles of the tracks that left the given order
	// MovedAtLeast is a number of tracks that a plan which keeps as much on no
	// more tapes cannot do without moving.
	MovedAtLeast int       `json:"moved_at_least,omitempty"`
	Skipped      []Skipped `json:"skipped,omitempty"` // files that could not be read (--skip-bad)
	Warnings     []Warning `json:"warnings"`
	Echoes       []Echo    `json:"echoes,omitempty"` // where print-through may be heard (--levels)
	// Setting is the one place that the record level is set on (--levels).
	Setting *LevelSetting `json:"level_setting,omitempty"`
	// Suggestions say what would help; each was solved before it was written.
	Suggestions []Suggestion `json:"suggestions,omitempty"`

	Terms Terms `json:"terms"`

	mustLost []Warning // of tracks that must be on the tape and are not; see Make
}

// Lacks are the wanted tracks that were left out; reserves are not missed.
func (p Plan) Lacks() []Track {
	var out []Track
	for _, t := range p.LeftOut {
		if t.Reserve == 0 {
			out = append(out, t)
		}
	}
	return out
}

// Terms are what the plan was reckoned with, so that card, sheet and a later
// step need not ask again.
type Terms struct {
	Order    string         `json:"order"`           // keep, near, free
	Spare    string         `json:"spare"`           // last, even, first
	Aim      string         `json:"aim,omitempty"`   // songs, time; plans of before it was written: time
	Tapes    int            `json:"tapes,omitempty"` // how many might be used; 0: as many as the plan has
	Apart    int            `json:"apart,omitempty"` // tracks between two of the same artist, at the least
	Arcs     map[string]Arc `json:"arcs,omitempty"`
	ThinTail string         `json:"thin_tail,omitempty"` // warn, rugged, blank
	GapS     Seconds        `json:"gap_s"`
	Limit    string         `json:"limit"` // short, nominal, measured

	TolerancePct   float64 `json:"tolerance_pct"`
	DeckSpeedPct   float64 `json:"deck_speed_pct"` // + is fast
	LeadInS        Seconds `json:"lead_in_s"`
	EndLeaderS     Seconds `json:"end_leader_s"`
	TapeMinutes    float64 `json:"tape_minutes,omitempty"` // a side timed leader to leader; 0: not measured
	CounterRatio   float64 `json:"counter_ratio"`          // counts a turn of the take-up hub; 0: the deck counts time
	CounterKnown   bool    `json:"counter_known"`          // false: the default ratio, an estimate
	DeckLimit      string  `json:"deck_limit,omitempty"`   // longest tape the deck's manual allows
	Deck           *Deck   `json:"deck,omitempty"`         // what its profile says; nil: no profile
	TypedMarginS   Seconds `json:"typed_margin_s,omitempty"`
	TapeType       string  `json:"tape_type,omitempty"`       // I, II, III, IV
	NoiseReduction string  `json:"noise_reduction,omitempty"` // none, B, C, ...
	UsedTape       bool    `json:"used_tape,omitempty"`       // something was recorded on it before

	Levels *LevelTerms `json:"levels,omitempty"` // nil: the tracks were not listened to
	Stored tape.Stored `json:"stored,omitempty"` // how the tape will be put away; empty: rewound
}

// Deck is what the profile of the deck says and a run sheet needs. Zero values
// mean that nothing is known.
type Deck struct {
	Name         string  `json:"name,omitempty"`
	Heads        int     `json:"heads,omitempty"`            // 2 or 3
	AutoStop     string  `json:"auto_stop,omitempty"`        // none, lever, both hubs
	AutoReverse  bool    `json:"auto_reverse,omitempty"`     // it turns the tape round itself
	TurnRoundS   Seconds `json:"turn_round_s,omitempty"`     // without sound while it does
	MeterZero    int     `json:"meter_zero_nwb_m,omitempty"` // flux at 0 dB
	LevelControl bool    `json:"level_control,omitempty"`    // record calibration of level
	BiasControl  bool    `json:"bias_control,omitempty"`     // and of bias
}

// Tape is one cassette of the plan.
type Tape struct {
	Name        string  `json:"name"`              // C90
	Label       string  `json:"label,omitempty"`   // the person's own name for it
	Type        string  `json:"type,omitempty"`    // I, II, III, IV
	Used        bool    `json:"used,omitempty"`    // something was recorded on it before
	Known       *Known  `json:"known,omitempty"`   // of this very tape; nil: nothing
	TimedS      Seconds `json:"timed_s,omitempty"` // a side timed leader to leader, at nominal speed
	ThicknessUM float64 `json:"thickness_um"`      // whole tape, base and coating
	LengthM     float64 `json:"length_m"`
	HubMM       float64 `json:"hub_radius_mm"`
	FullMM      float64 `json:"full_radius_mm"` // pack radius with all tape on one hub
	Sides       []Side  `json:"sides"`
}

// Side is one side of a cassette.
type Side struct {
	Side    string  `json:"side"`     // A or B
	UsableS Seconds `json:"usable_s"` // for programme, after lead-in, end leader and tolerance
	UsedS   Seconds `json:"used_s"`   // tracks and the gaps between them
	SpareS  Seconds `json:"spare_s"`  // usable less used

	// The three limits for programme, and which of them is UsableS (Terms.Limit).
	ShortS    Seconds `json:"short_s"`
	NominalS  Seconds `json:"nominal_s"`
	MeasuredS Seconds `json:"measured_s,omitempty"` // 0: not measured

	// RunS is the whole side from pressing record to the end of the tape, at
	// nominal length on this deck: what the clock will show when it stops.
	RunS Seconds `json:"run_s"`
	// ThinFromS is when the supply pack falls under the stated radius, from
	// pressing record; 0 when the tape is not thin.
	ThinFromS Seconds `json:"thin_from_s,omitempty"`

	Arc *ArcFit `json:"arc,omitempty"` // nil: its running order follows no arc

	Tracks []Track `json:"tracks"`
}

// ArcFit is how near the running order of a side is to its arc, in points of
// drive (0 to 10) a track, on average: the distance from the drive that belongs
// at a track's place or, on a level side, of the drive so far from its share.
type ArcFit struct {
	Arc    Arc     `json:"arc"`
	Off    float64 `json:"off"`
	Within float64 `json:"within"` // by how much another order could be nearer, at the most
	Proved bool    `json:"proved"` // no other order is nearer
}

// Track is one track at its place.
type Track struct {
	Path string `json:"path"` // relative to the plan file; empty: no file
	// PathBytes are the bytes of a Path that is not UTF-8, in base64. Only the
	// file has them: Encode and Decode see to it.
	PathBytes string `json:"path_bytes,omitempty"`
	Title     string `json:"title"`
	Artist    string `json:"artist"`

	StartS     Seconds          `json:"start_s"`  // from pressing record
	LengthS    Seconds          `json:"length_s"` // as played: less FadeS
	LengthFrom media.LengthFrom `json:"length_from"`
	Part       bool             `json:"part,omitempty"`     // a part of its file: PartS of it, from FromS
	FromS      Exact            `json:"from_s,omitempty"`   // where a part begins within its file
	PartS      Exact            `json:"part_s,omitempty"`   // how much of its file a part is, FadeS included
	SplitOf    *Stretch         `json:"split_of,omitempty"` // the piece that it is a part of, where one was split over two sides
	GapS       Seconds          `json:"gap_s"`              // blank after it; 0 for the last of a side
	Counter    *int             `json:"counter"`            // reading at the start; null for decks that count time
	Recorded   bool             `json:"recorded,omitempty"` // it is on the tape already; see Replan
	Joined     bool             `json:"joined,omitempty"`   // to the next: no gap, never split
	Reserve    int              `json:"reserve,omitempty"`  // rank among the reserve tracks; 0: wanted
	FadeS      Seconds          `json:"fade_s,omitempty"`   // the plan shortens it by this much with a fade
	Wish       *Wish            `json:"wish,omitempty"`     // what the person asked of it
	Level      *TrackLevel      `json:"level,omitempty"`    // what the meter found in it; nil: not metered
	Number     int              `json:"n,omitempty"`        // its place in the given order, from 1; 0: a plan of before it was written
	Size       int64            `json:"size,omitempty"`
	ModTime    *time.Time       `json:"mod_time,omitempty"`
}

// EndS is when the track's sound ends, from pressing record.
func (t Track) EndS() Seconds { return t.StartS + t.LengthS }

// Recorded is how many tracks are on the side already (see Replan), and when the
// last of them ends, from pressing record at the beginning: where to go on.
func (s Side) Recorded() (tracks int, until Seconds) {
	for _, t := range s.Tracks {
		if t.Recorded {
			tracks++
			until = t.EndS()
		}
	}
	return tracks, until
}

// Skipped is a file that was left aside because it could not be read.
type Skipped struct {
	Path string `json:"path"`
	Why  string `json:"why"`
}

// Severity of a warning, mildest first.
type Severity string

const (
	Remark  Severity = "note"    // good to know
	Caution Severity = "caution" // do something about it
	Stop    Severity = "stop"    // the plan should not be recorded as it is
)

// Warning is one sentence that a person can act on.
type Warning struct {
	About    string   `json:"about"` // short, tail, thin, deck, blank, length, skipped, ...
	Severity Severity `json:"severity"`
	Tape     int      `json:"tape,omitempty"` // 1-based; 0: the whole plan
	Side     string   `json:"side,omitempty"`
	Track    string   `json:"track,omitempty"`
	AtS      Seconds  `json:"at_s,omitempty"` // from pressing record
	Says     string   `json:"says"`
}
