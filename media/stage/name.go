package stage

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"longside/media/oneline"
)

// mostName bounds a name in bytes: systems take 255, and an ending comes behind.
const mostName = 200

// reserved are names that Windows keeps for devices, whatever their ending.
// ref: Microsoft, "Naming Files, Paths, and Namespaces".
var reserved = map[string]bool{"CON": true, "PRN": true, "AUX": true, "NUL": true, "CONIN$": true, "CONOUT$": true}

// Name makes of text from anywhere the name of one file that every system takes,
// in the folder that it is put in and no other. What may not be in it becomes _.
// A name that is made from data goes through here; a person's own is taken as it is.
func Name(text string) string {
	s := strings.Map(func(r rune) rune {
		if r == utf8.RuneError || oneline.Unfit(r) || unicode.IsSpace(r) && r != ' ' || strings.ContainsRune(`/\:*?"<>|`, r) {
			return '_'
		}
		return r
	}, text)
	for len(s) > mostName {
		_, n := utf8.DecodeLastRuneInString(s)
		s = s[:len(s)-n]
	}
	// Hidden, an option, or cut off by a system.
	s = strings.TrimRight(strings.TrimLeft(s, " .-"), " .")
	stem, _, _ := strings.Cut(s, ".")
	stem = strings.ToUpper(strings.TrimRight(stem, " "))
	port := len(stem) == 4 && (stem[:3] == "COM" || stem[:3] == "LPT") && stem[3] >= '0' && stem[3] <= '9'
	if s == "" || reserved[stem] || port {
		s = "_" + s
	}
	return s
}
