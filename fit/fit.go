// Package fit puts pieces onto sides: whole numbers only, no music, no tape,
// no files. Give [Solve] a [Problem] and it gives an [Answer]; [Problem.Check]
// tells, by code of its own, whether an answer keeps every rule.
//
// A side is a stretch of time. Pieces are laid on it one after another, each
// followed by its gap; the gap after the last piece of a side is given back.
// Where gaps differ, a running order is chosen for the gap that it gives back
// only when the pieces would not fit otherwise, not to leave more blank tape.
//
// # What is better
//
// Of two answers that keep the rules, the better is the one with, in this
// order (see [Problem.Compare], the only place where it is decided):
//
//  1. at most MaxTapes tapes: a rule, never traded;
//  2. the most wanted programme. [MostSongs] counts songs (a piece of several
//     joined ones counts as so many) and, at equal number, playing time, gaps
//     not counted; [MostTime] counts playing time and, at equal time, songs;
//  3. the least time faded: fading is a last resort, but better than leaving out;
//  4. fewest tapes, then the least cost;
//  5. fewest pieces moved from the given order (order [Near]). Where a rule
//     keeps a side from the given order, that of its orders is taken which
//     swaps the fewest pairs, and no proof is given that none moves fewer;
//  6. the most of the reserves, rank by rank, counted as under 2: reserves
//     fill spare time, they never open another tape and nothing is moved for
//     them;
//  7. blank tape where [Spare] asks for it;
//  8. the best running order: nearest the arc of each side (order [Free]),
//     then nearest the given order. For lists longer than a dozen this is
//     looked for on the sides as chosen under 1 to 7, and a proof is of 1 to 7;
//     [Answer.Arcs] has a word on each side that follows an arc.
//
// In order [Near] moving pieces is worth it for all wanted pieces to have a
// place: answers where they do come first, and among these it is as above. Where
// not all have, a moved piece must pay in the same coin: with [MostSongs] pieces
// are moved to keep a song more; beyond that playing time counts less MoveWorth
// for each piece moved, and only of two as good the greater time is better.
//
// An answer is [Answer.Proved] when nothing better exists. Otherwise
// [Answer.Within] and [Answer.AtLeast] say how far from the best it can be.
//
// # Rules
//
// A rule binds the pieces that are placed; one that must be placed says so
// itself (Must). Rules that cannot all be kept are named by [Problem.Contradiction].
// A rule about the running order, such as Apart, is about one side: between two
// sides the tape is turned over.
package fit

import "time"

// Millis is a length of time in whole milliseconds: the unit of everything in
// this package. Lengths are rounded up to it and capacities down, so that a
// plan never fits by rounding.
type Millis int64

// Up rounds a length up to whole milliseconds.
func Up(d time.Duration) Millis {
	m := Millis(d / time.Millisecond)
	if d%time.Millisecond > 0 {
		m++
	}
	return m
}

// Down rounds a capacity down to whole milliseconds.
func Down(d time.Duration) Millis {
	m := Millis(d / time.Millisecond)
	if d%time.Millisecond < 0 {
		m--
	}
	return m
}

// Duration is m as a time.Duration.
func (m Millis) Duration() time.Duration { return time.Duration(m) * time.Millisecond }

// Piece is one thing that is never split: a track, or several joined.
type Piece struct {
	Length Millis // playing time, 1 to Longest
	Margin Millis // how much of Length may not be there: no overlap reckons with it
	Songs  int    // how many songs it counts as, 1 to MaxSongs; 0 means 1
	// Gap is the silence after it, before the next piece of the same side:
	// -Length (an overlap) to Longest. The last piece of a side gives it back.
	// What overlaps a piece before and after it together takes no more than its
	// length, less Fade and Margin: no piece ends before the one that it follows.
	Gap Millis
	// Reserve is 0 for a piece that is wanted; 1 for the reserves to use
	// first, 2 for the next, and so on.
	Reserve int
	Must    bool  // never left out
	Side    int   // only on this side, counted from 1 through all tapes; 0: any
	Opens   Place // first of its side, or of everything
	Closes  Place // last of its side, or of everything
	Group   int   // pieces with the same number are kept Apart; 0: none
	// Groups are those of its tracks in playing order, where it is several;
	// Group is not looked at then. What is within a piece is as it is.
	Groups  []int
	NotThin bool // ends before the thin part of its side
	// Fade is by how much it may be shortened at its end, as a last resort:
	// 0 to Length-1.
	Fade  Millis
	Drive int64 // how driving it is, for the arc of its side: -MaxDrive to MaxDrive
}

// tracks is how many tracks a piece is, as far as Apart counts them.
func (q *Piece) tracks() int { return max(1, len(q.Groups)) }

// group is the group of one of its tracks.
func (q *Piece) group(track int) int {
	if len(q.Groups) > 0 {
		return q.Groups[track]
	}
	return q.Group
}

// grouped tells whether any of its tracks is of a group.
func (q *Piece) grouped() bool {
	for t := range q.tracks() {
		if q.group(t) != 0 {
			return true
		}
	}
	return false
}

// songs is how many songs a piece counts as.
func (q *Piece) songs() int { return max(1, q.Songs) }

// Place says of what a piece is the opener or the closer.
type Place int

// The places.
const (
	Nothing Place = iota
	OfSide        // of the side that it is on
	OfAll         // of the first side that holds anything, or the last
)

// Arc is the course of Drive over a side. Only order Free follows it.
type Arc int

// The arcs.
const (
	NoArc   Arc = iota
	Level       // strong and gentle pieces evenly mixed
	Rising      // from the gentlest to the strongest
	Falling     // the mirror of Rising
	Hill        // gentle at both ends
	Valley      // strong at both ends
)

// Side is one side of a tape.
type Side struct {
	Capacity Millis // time for pieces and the gaps between them, 0 to Longest
	ThinFrom Millis // where its thin part begins, for NotThin; 0: it has none
	Arc      Arc
	// Begun is a number of Problem.Begun, counted from 1, where something is on
	// the side already, before its Capacity; 0: nothing is.
	Begun int
}

// Begun is what is on a side already: nothing opens such a side any more.
type Begun struct {
	Groups []int // of the pieces on it, in playing order, for Apart
}

// Kind is one kind of tape.
type Kind struct {
	Sides []Side // in playing order, at least one
	Stock int    // how many there are; 0: any number
	Cost  int64  // of one tape, in any unit that is 0 or more
}

// Order says how far the given order of the pieces binds.
type Order int

// The orders.
const (
	Keep Order = iota // the pieces stay in the given order: only the side breaks are chosen
	Near              // the given order, with as few pieces moved as the rest allows
	Free              // any order
)

// Spare says where blank tape should be. Blank of a side is its capacity less
// the time used; a side without a piece is all blank.
type Spare int

// The places for blank tape.
const (
	// Last puts it at the end of the last side: the others hold as little as
	// can be (their sum), earlier sides being the fuller where there is a choice.
	Last Spare = iota
	// Even makes it equal (the least sum of squares), earlier sides being the
	// fuller when it cannot be: duplicators ask for side A a little longer.
	Even
	// First is the mirror of Last.
	First
)

// Aim says what is counted when not everything fits.
type Aim int

// The aims.
const (
	MostSongs Aim = iota // the fewest songs are left out
	MostTime             // the most playing time is kept
)

// Limits of a problem. They keep every sum far inside 64 bits.
const (
	Longest   Millis = 1 << 31 // of a piece, gap or side: 24 days
	MaxPieces        = 10_000
	MaxSongs         = 10_000  // in a piece
	MaxSides         = 64      // of a kind of tape
	MaxCost   int64  = 1 << 40 // of a tape
	MaxDrive  int64  = 1 << 30 // of a piece
)

// Problem is what is to be solved. Zero values mean "no rule".
type Problem struct {
	Pieces   []Piece // in the given order
	Kinds    []Kind  // at least one
	MaxTapes int     // 0 means 1, and no fewer than are Given
	// Given are tapes that are there already, by kind: in this order they come
	// first, and count as used whether or not a piece goes on them.
	Given []int
	// Begun says what is on sides already that were begun (Side.Begun).
	Begun []Begun
	// Start is an answer of which the tapes and what is faded are known: what
	// Solve answers is no worse. One that breaks a rule is passed over.
	Start *Answer
	Order Order
	Spare Spare
	Aim   Aim
	// MoveWorth is how much more playing time each moved piece must keep, where
	// not all that is wanted has a place: 0 to Longest. Only order Near moves.
	MoveWorth Millis
	// Apart is how many other tracks lie at least between two of the same
	// Group on a side: 1 means not next to each other.
	Apart int
	// MaxSteps bounds the effort, in steps of about a microsecond; 0 is a
	// sensible default. The same problem with the same effort has the same
	// answer on every run and on any number of cores.
	MaxSteps int64
}

// Load is one tape of an answer.
type Load struct {
	Kind  int     // number of its kind in Problem.Kinds
	Sides [][]int // a list a side: numbers of pieces in playing order
}

// Answer is where the pieces go.
type Answer struct {
	Tapes   []Load // in playing order; of tapes without a piece only those Given are listed
	LeftOut []int  // numbers of the pieces without a place, ascending
	Faded   []Fade // by number of piece
	Score   Score  // what the answer is worth
	// Proved says that no better answer exists, by all that counts (see the
	// package comment).
	Proved bool
	// SongsWithin and Within are, when it is not proved, the most by which the
	// best possible can hold more songs and more playing time of what is wanted.
	// Both are 0 where these are proved and only the finer points are not.
	SongsWithin int
	Within      Millis
	AtLeast     int // a number of tapes that the wanted pieces kept cannot do without
	// MovedAtLeast is a number of pieces, in order Near, that an answer which
	// keeps as much on no more tapes cannot do without moving.
	MovedAtLeast int
	// Arcs tell, of each side that follows an arc, how near to it it is.
	Arcs  []ArcFit
	Cut   bool  // stopped by the context before the effort was spent
	Steps int64 // effort spent

	most Share // a bound on what can be kept of the wanted, by Aim
}

// Fade is a piece shortened at its end.
type Fade struct {
	Piece int
	By    Millis
}
