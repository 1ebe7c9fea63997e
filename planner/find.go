package planner

import (
	"fmt"
	"path/filepath"
	"strconv"
	"strings"
)

// Find gives the number of the item that a person means by name: its place in
// the list (#7), its file's name with or without the ending, its title, or a
// part of either that no other item has. Letter case does not count.
func (m *Mix) Find(name string) (int, error) {
	if num, ok := strings.CutPrefix(name, "#"); ok {
		if n, err := strconv.Atoi(num); err == nil {
			if n < 1 || n > len(m.Items) {
				return 0, fmt.Errorf("no track %s: there are %d", name, len(m.Items))
			}
			return n - 1, nil
		}
	}
	want := strings.ToLower(strings.TrimSpace(name))
	if want == "" {
		return 0, fmt.Errorf("no track is named %q", name)
	}
	// From the surest way of being named to the least; the first that any item
	// answers to decides.
	ways := []func(Item) bool{
		func(it Item) bool { return strings.ToLower(it.Title) == want },
		func(it Item) bool {
			base := strings.ToLower(filepath.Base(it.Path))
			return it.Path != "" && (base == want || strings.TrimSuffix(base, filepath.Ext(base)) == want)
		},
		func(it Item) bool {
			return strings.Contains(strings.ToLower(it.Title), want) ||
				it.Path != "" && strings.Contains(strings.ToLower(filepath.Base(it.Path)), want)
		},
	}
	for _, fits := range ways {
		var found []int
		for i, it := range m.Items {
			if fits(it) {
				found = append(found, i)
			}
		}
		switch len(found) {
		case 0:
		case 1:
			return found[0], nil
		default:
			return 0, fmt.Errorf("%q could be %d tracks, as #%d and #%d: write #%d or more of the title",
				name, len(found), found[0]+1, found[1]+1, found[0]+1)
		}
	}
	return 0, fmt.Errorf("no track is named %q: write its title, its file's name or #7 for the seventh", name)
}

// NameOf is what names item i and no other: its title, or its place as #7.
func (m *Mix) NameOf(i int) string {
	if j, err := m.Find(m.Items[i].Title); err == nil && j == i {
		return m.Items[i].Title
	}
	return fmt.Sprintf("#%d", i+1)
}

// sideName is the name of a side that counts through all tapes, from 1: A, or
// 2A where there may be several tapes.
func sideName(n, tapes int) string {
	letter := string(rune('A' + (n-1)%2))
	if tapes > 1 {
		return fmt.Sprintf("%d%s", (n-1)/2+1, letter)
	}
	return letter
}
