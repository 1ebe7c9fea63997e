package planner

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"longside/fit"
	"longside/media"
	"longside/media/meter"
	"longside/planner/tape"
)

// richPlan is a plan with something in nearly every field of its file.
func richPlan(t testing.TB) Plan {
	t.Helper()
	m := mix(400.5, 300.25, 250, 3000, 190)
	m.Title, m.Note = "Crossing", "for the night watch"
	m.Skipped = []Skipped{{"broken.mp3", "ends too early"}}
	gap, drive := Seconds(2500*time.Millisecond), 7.5
	m.Items[0].Wish = Wish{Join: true, Opens: OfSide}
	m.Items[1].Wish = Wish{Gap: &gap, Rugged: true, Drive: &drive, Side: "A"}
	m.Items[2].Wish = Wish{Reserve: 1, NotThin: true, Fade: Seconds(5 * time.Second)}
	m.Items[3].Wish = Wish{Split: Seconds(1500 * time.Second)}
	m.Items[4].LengthFrom, m.Items[4].Path = media.Typed, ""
	for i := range m.Items {
		m.Items[i].Artist, m.Items[i].Size, m.Items[i].ModTime = "Ada Skerrow", 12345, time.Date(2026, 11, 1, 20, 0, 0, 5000, time.UTC)
		if m.Items[i].Path != "" {
			m.Items[i].Heard = &meter.Result{Integrated: -18 - float64(i), TruePeak: -1, LoudestAt: 30 * time.Second, Channels: 2}
		}
	}
	r := request(t, "C120", m)
	r.Order, r.MaxTapes, r.Apart, r.ThinTail = fit.Free, 2, 0, WarnTail
	r.Arcs = map[string]Arc{"A": Rising}
	r.Deck = &tape.Deck{Name: "galley", Heads: 3, AutoStop: tape.StopLever, AutoReverse: true, TurnRound: 2 * time.Second, MeterZero: 200, LevelControl: true}
	r.DeckLimit.Known = true
	r.TapeType, r.NoiseReduction, r.UsedTape = "II", "B", true
	r.Tapes[0].Labels, r.Tapes[0].Stock = []string{"Mole 1"}, 1
	p := make1(t, r)
	for _, w := range p.Warnings {
		if w.AtS < 0 {
			t.Errorf("a warning before the side begins: %+v", w)
		}
	}
	if len(p.Tapes) == 0 || len(p.Tapes[0].Sides[0].Tracks) < 2 {
		t.Fatalf("the rich plan is poor: %+v", p)
	}
	p.Moved, p.MovedAtLeast = []string{"a"}, 1
	p.Tapes[0].Sides[0].Tracks[0].Recorded = true
	p.Suggestions = []Suggestion{{About: "drop", Says: "leave it out", Tracks: []string{"a"}, Tape: "C120"}}
	p.Echoes = []Echo{{Tape: 1, Side: "A", Track: "a", LoudS: Seconds(20 * time.Second), AtS: Seconds(18 * time.Second), DelayS: Seconds(2 * time.Second), RiseLU: 22}}
	return p
}

// hostile are values for any field. A file may hold each of them; most fields may not.
var hostile = []string{
	`null`, `true`, `0`, `-1`, `7.5`, `1e3`, `-1e6`, `1e300`, `9223372036854775808`,
	`""`, `"A"`, `"/../../../../escaped"`, `".."`, `"a\u001b[31mb"`, `"a\u009b31mb"`, `"a\nb"`, `"\u0000"`, `"\ud800"`,
	`[]`, `[null]`, `{}`, `{"":0}`,
	`"` + strings.Repeat("x", 3000) + `"`,
}

// changed calls f with each field and element of a JSON value in turn replaced
// by each of the values, and left out; where is its path. Of lists, the first
// two elements are enough.
func changed(t *testing.T, data []byte, values []string, f func(where, value string, data []byte)) {
	t.Helper()
	var root any
	if err := json.Unmarshal(data, &root); err != nil {
		t.Fatal(err)
	}
	say := func(where, value string) {
		b, err := json.Marshal(root)
		if err != nil {
			t.Fatal(err)
		}
		f(where, value, b)
	}
	var walk func(v any, where string)
	each := func(where string, old any, set func(any)) {
		for _, h := range values {
			set(json.RawMessage(h))
			say(where, h)
		}
		set(old)
		walk(old, where)
	}
	walk = func(v any, where string) {
		switch x := v.(type) {
		case map[string]any:
			keys := make([]string, 0, len(x))
			for k := range x {
				keys = append(keys, k)
			}
			slices.Sort(keys)
			for _, k := range keys {
				old := x[k]
				delete(x, k)
				say(where+"."+k, "nothing")
				x[k] = old
				each(where+"."+k, old, func(v any) { x[k] = v })
			}
		case []any:
			for i := range min(len(x), 2) {
				each(where+"[]", x[i], func(v any) { x[i] = v })
			}
		}
	}
	walk(root, "")
}

// TestHostilePlans: each field of a plan times each hostile value is refused in
// one line that can be printed, or gives a plan that nothing can be harmed with.
// The judge reads the JSON as a tree and shares nothing with the checks.
func TestHostilePlans(t *testing.T) {
	data, err := Encode(richPlan(t))
	if err != nil {
		t.Fatal(err)
	}
	kind := func(v any) string { return strings.TrimSuffix(fmt.Sprintf("%T", v), "64") }
	refused, passed := 0, 0
	changed(t, data, hostile, func(where, value string, data []byte) {
		p, err := Decode(data)
		if err != nil {
			refused++
			if value = value[:min(len(value), 40)]; strings.ContainsFunc(err.Error(), func(r rune) bool { return r < ' ' || r > 0x7e && r < 0xa0 }) || len(err.Error()) > 400 {
				t.Errorf("%s = %s: the error %.300q is not one line that can be printed", where, value, err)
			}
			return
		}
		passed++
		// What passed is of the kind that was there, and what is a text is one.
		for _, tp := range p.Tapes {
			for k, s := range tp.Sides {
				if s.Side != string(rune('A'+k)) {
					t.Errorf("%s = %.40s: a side is called %q", where, value, s.Side)
				}
				end := 0.0
				for _, tr := range s.Tracks {
					if tr.StartS.D().Seconds() < end-700 || tr.LengthS < 0 || tr.LengthS.D() > 24*time.Hour {
						t.Errorf("%s = %.40s: times of a track: %v", where, value, tr)
					}
					end = tr.EndS().D().Seconds()
				}
				if end > s.RunS.D().Seconds()+1 || end > 3*3600 {
					t.Errorf("%s = %.40s: a side ends at %g s", where, value, end)
				}
			}
		}
		printable(t, reflect.ValueOf(p), where+" = "+value)
	})
	t.Logf("%d changed plans refused, %d passed", refused, passed)
	if refused < 3*passed {
		t.Errorf("only %d of %d changed plans were refused", refused, refused+passed)
	}
	// A value of another kind is refused whatever the field is, but for null in
	// the place of what may be missing.
	samples := map[string]string{"float": `7`, "string": `"x"`, "bool": `true`, "[]interface {}": `[]`, "map[string]interface {}": `{}`}
	var tree any
	if err := json.Unmarshal(data, &tree); err != nil {
		t.Fatal(err)
	}
	swapped := 0
	for was, text := range samples {
		changed(t, data, []string{text}, func(where, value string, data []byte) {
			if value == "nothing" {
				return
			}
			if old := kind(at(tree, where)); old == was || old == "<nil>" {
				return
			}
			swapped++
			if _, err := Decode(data); err == nil {
				t.Errorf("%s = %s, which was of kind %s, is read", where, value, kind(at(tree, where)))
			}
		})
	}
	t.Logf("%d values of another kind refused", swapped)
}

// at is the value at a path of changed; of lists, the first element.
func at(v any, where string) any {
	for _, word := range strings.Split(strings.ReplaceAll(where, "[]", ".[]"), ".")[1:] {
		switch x := v.(type) {
		case map[string]any:
			v = x[word]
		case []any:
			v = x[0]
		}
	}
	return v
}

// printable: no text of a plan but a path holds a control character.
func printable(t *testing.T, v reflect.Value, where string) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() && v.Type().Elem() != reflect.TypeFor[time.Time]() {
			printable(t, v.Elem(), where)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if name := v.Type().Field(i).Name; name != "Path" && name != "ModTime" {
				printable(t, v.Field(i), where+" in "+name)
			}
		}
	case reflect.Slice:
		for i := range v.Len() {
			printable(t, v.Index(i), where)
		}
	case reflect.Map:
		for _, k := range v.MapKeys() {
			printable(t, k, where)
			printable(t, v.MapIndex(k), where)
		}
	case reflect.String:
		for _, r := range v.String() {
			if r < ' ' || r >= 0x7f && r < 0xa0 {
				t.Errorf("%.80s: %q is read", where, v.String())
			}
		}
	}
}

// TestFilesMayGrow: fields that are not known pass, wherever they stand and
// whatever they hold.
func TestFilesMayGrow(t *testing.T) {
	data, err := Encode(richPlan(t))
	if err != nil {
		t.Fatal(err)
	}
	want, err := Decode(data)
	if err != nil {
		t.Fatal(err)
	}
	for _, more := range []string{`"colour":"red"`, `"colour":null`, `"colour":[1,{"a":[]},"}"]`, `"\u00e9\"":{"tapes":[{}]}`, `"x":"\\"`} {
		// The arcs are by the names of sides: there is no field to add there.
		grown := strings.ReplaceAll(string(data), "{\n", "{"+more+",\n")
		grown = strings.Replace(grown, `"arcs": {`+more+",", `"arcs": {`, 1)
		got, err := Decode([]byte(grown))
		if err != nil {
			t.Errorf("with %s: %v", more, err)
		} else if !reflect.DeepEqual(got, want) {
			t.Errorf("with %s: another plan", more)
		}
	}
}

// TestEndlessPlans: a file of millions of empty entries, or one that is nested
// without end, is refused before anything is made of it.
func TestEndlessPlans(t *testing.T) {
	head := `{"format":"longside plan","version":1,`
	for name, file := range map[string]string{
		"tracks":   head + `"left_out":[` + strings.Repeat("{},", 1_000_000) + `{}]}`,
		"TRACKS":   head + `"LEFT_OUT":[` + strings.Repeat("{},", 1_000_000) + `{}]}`,
		"moved":    head + `"moved":[` + strings.Repeat(`"",`, 1_000_000) + `""]}`,
		"sides":    head + `"tapes":[{"sides":[` + strings.Repeat(`{},`, 1_000_000) + `{}]}]}`,
		"twice":    head + `"tapes":[],"tapes":[]}`,
		"twice, x": head + `"tapes":[],"Tapes":[]}`,
		"nested":   head + `"x":` + strings.Repeat("[", 100_000) + strings.Repeat("]", 100_000) + `}`,
	} {
		used := testing.AllocsPerRun(1, func() {
			if _, err := Decode([]byte(file)); err == nil {
				t.Errorf("%s: it is read", name)
			}
		})
		if used > 1_000_000 {
			t.Errorf("%s: %.0f pieces of memory", name, used)
		}
	}
}

// TestWrittenPlansAreRead: whatever plan is made can be written, and read as it was.
func TestWrittenPlansAreRead(t *testing.T) {
	rng := rand.New(rand.NewPCG(12, 1))
	for n := range 60 {
		var lengths []float64
		for range 1 + rng.IntN(30) {
			lengths = append(lengths, 20+600*rng.Float64())
		}
		r := request(t, []string{"C46", "C60", "C90", "C120"}[rng.IntN(4)], mix(lengths...))
		r.Order = []fit.Order{fit.Keep, fit.Near, fit.Free}[rng.IntN(3)]
		r.Gap = time.Duration(rng.IntN(20_000)-8000)*time.Millisecond + time.Duration(rng.IntN(1000))*time.Microsecond
		r.DeckError = 0.04 * (rng.Float64() - 0.5)
		r.MaxTapes, r.MaxSteps = 1+rng.IntN(3), 20_000
		r.Limit = []Limit{ShortLimit, NominalLimit}[rng.IntN(2)]
		for i := range r.Mix.Items {
			if rng.IntN(6) == 0 {
				r.Mix.Items[i].LengthFrom = media.Typed
			}
			if rng.IntN(6) == 0 {
				r.Mix.Items[i].Wish = Wish{Reserve: 1 + rng.IntN(3), Fade: Seconds(rng.IntN(5)) * Seconds(time.Second)}
			}
		}
		p := make1(t, r)
		data, err := Encode(p)
		if err != nil {
			t.Fatalf("plan %d: %v", n, err)
		}
		if _, err := Decode(data); err != nil {
			t.Fatalf("plan %d: %v", n, err)
		}
		if len(p.Tapes) == 0 || len(p.Tapes[0].Sides[0].Tracks) == 0 {
			continue
		}
		q, err := Replan(t.Context(), p, Recorded{Tracks: 1}, nil)
		if err != nil {
			continue // everything is recorded
		}
		if data, err = Encode(q); err == nil {
			_, err = Decode(data)
		}
		if err != nil {
			t.Fatalf("plan %d, made anew: %v", n, err)
		}
	}
}

// TestNothingUnwritable: a request that would make a plan which cannot be read
// again is refused before it is solved, or what is odd in it is put right.
func TestNothingUnwritable(t *testing.T) {
	gap := Seconds(-500 * time.Second)
	for name, c := range map[string]struct {
		change func(*Request)
		says   string // empty: a plan is made, and can be read
	}{
		"an overlap longer than a track": {func(r *Request) { r.Gap = -3 * time.Minute }, "overlap"},
		"the same of one track":          {func(r *Request) { r.Mix.Items[1].Wish.Gap = &gap }, "overlap"},
		"a gap without end":              {func(r *Request) { g := Seconds(time.Hour); r.Mix.Items[0].Wish.Gap = &g }, "gap after"},
		"a file of the year 12026":       {func(r *Request) { r.Mix.Items[0].ModTime = time.Date(12026, 1, 1, 0, 0, 0, 0, time.UTC) }, ""},
		"a name that is no line":         {func(r *Request) { r.Mix.Skipped = []Skipped{{"a\nb\x1b[31m\xff.mp3", "is\nbad"}} }, ""},
	} {
		r := request(t, "C60", mix(100, 200, 300))
		c.change(&r)
		p, err := Make(t.Context(), r)
		if c.says != "" {
			if err == nil || !strings.Contains(err.Error(), c.says) {
				t.Errorf("%s: error %v, want one of %q", name, err, c.says)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		data, err := Encode(p)
		if err == nil {
			_, err = Decode(data)
		}
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestBytesOfNames: a file's name comes back as it was, whatever bytes it is of.
func TestBytesOfNames(t *testing.T) {
	for _, name := range []string{"a\nb.mp3", "caf\xe9.mp3", "\xff", "\xed\xa0\x80.wav", "a\tb", "\ufffd", "brume légère.flac"} {
		m := mix(100, 200)
		m.Items[0].Path = name
		p := make1(t, request(t, "C60", m))
		data, err := Encode(p)
		if err != nil {
			t.Errorf("%q: %v", name, err)
			continue
		}
		q, err := Decode(data)
		if err != nil {
			t.Errorf("%q: %v", name, err)
		} else if got := q.Tapes[0].Sides[0].Tracks[0].Path; got != name {
			t.Errorf("%q comes back as %q", name, got)
		}
		if !reflect.DeepEqual(p, q) && err == nil {
			t.Errorf("%q: another plan", name)
		}
	}
	// Bytes that are not those of the name beside them are no carrier for another file.
	m := mix(100, 200)
	m.Items[0].Path = "caf\xe9.mp3"
	data, err := Encode(make1(t, request(t, "C60", m)))
	if err != nil {
		t.Fatal(err)
	}
	for _, bytes := range []string{"L2V0Yy9wYXNzd2Q=", "!", "Y2Fm"} {
		if _, err := Decode([]byte(strings.Replace(string(data), "Y2Fm6S5tcDM=", bytes, 1))); err == nil {
			t.Errorf("path_bytes of %q are read", bytes)
		}
	}
}
