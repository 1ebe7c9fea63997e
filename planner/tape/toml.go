package tape

import (
	"fmt"
	"reflect"
	"strings"
)

// Bounds of a file that a person writes by hand. A library that reads TOML keeps
// all of a file at once, and looks through it from the start for each key that it
// does not know: a small file could so take gigabytes, or hours.
const (
	mostTOMLValues = 400_000
	mostUnknown    = 10
	mostWords      = 8  // of one key
	mostNested     = 50 // inline tables within each other
)

// CheckTOML looks through a TOML file before it is decoded into form, a struct:
// it refuses one with more than most tables, with more values than a person
// writes, and with more than a few keys that form does not know. What is wrong
// with a file otherwise the decoder says better. The error is one line that
// begins with the file's line.
func CheckTOML(file []byte, form any, most int) error {
	root := reflect.TypeOf(form)
	table, value := root, reflect.Type(nil) // of the header above; of the key in front. nil: unknown
	type open struct{ table, value reflect.Type }
	var inline []open
	var words []string                        // of a key that is being read, parted by dots
	header, atStart, arrays := false, true, 0 // within [ ] that begins a line; nothing stood on the line yet
	values, tables, unknown, line := 0, 0, 0, 1
	var first error
	find := func(in reflect.Type) reflect.Type { // what the words name there
		t := in
		for _, w := range words {
			t = fieldType(t, w)
		}
		if t == nil || len(words) == mostWords {
			if unknown++; unknown == 1 {
				first = fmt.Errorf("line %d: nothing is called %q here", line, strings.Join(words, "."))
			}
		}
		words = words[:0]
		return t
	}
	for i := 0; i < len(file); i++ {
		from, c := i, file[i]
		word := false
		switch {
		case c == '\n':
			line++
			words, header, atStart = words[:0], false, true
			continue
		case c == ' ' || c == '\t' || c == '\r':
			continue
		case c == '#':
			for i+1 < len(file) && file[i+1] != '\n' {
				i++
			}
		case c == '"' || c == '\'':
			n, lines := tomlString(file[i:])
			line += lines
			i += n - 1
			word = true
		case c == '=':
			values++
			value = find(table)
		case c == '.':
			values++
		case c == '[':
			tables++
			if atStart && arrays == 0 && len(inline) == 0 {
				header = true
			} else if !header {
				arrays++
			}
			words = words[:0]
		case c == ']' && header:
			table = find(root)
			header = false
		case c == ']':
			arrays = max(0, arrays-1) // a header of a list of tables has two
		case c == '{':
			tables++
			if len(inline) == mostNested {
				return fmt.Errorf("line %d: inline tables are nested more than %d deep", line, mostNested)
			}
			inline = append(inline, open{table, value})
			table, words = value, words[:0]
		case c == '}' && len(inline) > 0:
			n := len(inline) - 1
			table, value = inline[n].table, inline[n].value
			inline = inline[:n]
		case c == ',':
			values++
			words = words[:0]
		case bareKey(c):
			for i+1 < len(file) && bareKey(file[i+1]) {
				i++
			}
			word = true
		}
		if word && len(words) < mostWords {
			words = append(words, strings.Trim(string(file[from:min(i+1, from+64)]), `"'`))
		}
		atStart = false
		switch {
		case tables > 2*most+mostUnknown: // [[track]] has two brackets
			return fmt.Errorf("line %d: more than %d tables", line, most)
		case values > mostTOMLValues:
			return fmt.Errorf("line %d: more than %d values: no file that a person writes has so many", line, mostTOMLValues)
		case unknown > mostUnknown:
			return first
		}
	}
	return nil
}

// fieldType is the type of the field that a key names in a form; nil: none.
func fieldType(t reflect.Type, key string) reflect.Type {
	for t != nil && (t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice) {
		t = t.Elem()
	}
	switch {
	case t == nil:
		return nil
	case t.Kind() == reflect.Map:
		return t.Elem()
	case t.Kind() != reflect.Struct:
		return nil
	}
	for i := range t.NumField() {
		f := t.Field(i)
		name, _, _ := strings.Cut(f.Tag.Get("toml"), ",")
		if name == "" {
			name = f.Name
		}
		if strings.EqualFold(name, key) {
			return f.Type
		}
	}
	return nil
}

// bareKey tells whether a key may hold this byte without quotation marks.
func bareKey(c byte) bool {
	return c == '_' || c == '-' || c >= '0' && c <= '9' || c|0x20 >= 'a' && c|0x20 <= 'z'
}

// tomlString is how many bytes the string takes that b begins with, and how many
// lines it goes on. ref: toml.io, TOML 1.0.0, String.
func tomlString(b []byte) (n, lines int) {
	quote := b[:1]
	if len(b) >= 3 && b[1] == b[0] && b[2] == b[0] {
		quote = b[:3]
	}
	for i := len(quote); i < len(b); i++ {
		switch {
		case b[i] == '\\' && b[0] == '"':
			i++
		case b[i] == '\n' && len(quote) == 1: // not closed: the decoder says so
			return i, lines
		case b[i] == '\n':
			lines++
		case b[i] == b[0] && len(b)-i >= len(quote) && string(b[i:i+len(quote)]) == string(quote):
			return i + len(quote), lines
		}
	}
	return len(b), lines
}
