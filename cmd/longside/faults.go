package main

import (
	"errors"
	"strings"

	"longside/media/oneline"
)

// bare is a file error without the operation and the path, which the line names already.
func bare(err error) error { return oneline.Error(err) }

// inFile puts the file's name before each line of an error that has several.
func inFile(path string, err error) error {
	var all []error
	for line := range strings.Lines(err.Error()) {
		all = append(all, errors.New(path+": "+strings.TrimSpace(line)))
	}
	return errors.Join(all...)
}
