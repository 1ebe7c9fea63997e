package main

import (
	"errors"
	"io/fs"
	"os"
	"strings"
)

// bare is a file error without the operation and the path, which the line names already.
func bare(err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return pe.Err
	}
	var le *os.LinkError
	if errors.As(err, &le) {
		return le.Err
	}
	return err
}

// inFile puts the file's name before each line of an error that has several.
func inFile(path string, err error) error {
	var all []error
	for line := range strings.Lines(err.Error()) {
		all = append(all, errors.New(path+": "+strings.TrimSpace(line)))
	}
	return errors.Join(all...)
}
