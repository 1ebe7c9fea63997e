package main

import (
	"context"
	"fmt"

	"longside/media/stage"
)

// output is one file to write.
type output struct {
	path string
	data []byte
}

// writeAll writes files that are held, all or none.
func (a *app) writeAll(ctx context.Context, files []output, mkdir, force bool) error {
	return a.fillAll(ctx, held(files), mkdir, force)
}

// held are outputs as stage takes them.
func held(files []output) []stage.File {
	var fs []stage.File
	for _, f := range files {
		fs = append(fs, stage.Bytes(f.path, f.data))
	}
	return fs
}

// fillAll writes files, all or none; they lie in one folder. Every write of a
// command goes through here.
func (a *app) fillAll(ctx context.Context, files []stage.File, mkdir, force bool) error {
	err := stage.Write(ctx, files, stage.Options{Force: force, Folders: mkdir, Found: a.found})
	if err == nil {
		for _, f := range files {
			a.wrote = append(a.wrote, f.Path)
		}
	}
	return err
}

// vacant says whether files may be written in these places of one folder.
// Commands that work long ask before they begin.
func (a *app) vacant(ctx context.Context, force bool, paths ...string) error {
	return stage.Vacant(ctx, paths, stage.Options{Force: force, Found: a.found})
}

// found tells what was done about a run that had been killed.
func (a *app) found(says string) { fmt.Fprintln(a.err, "longside: "+says) }

// writeOwn writes over a file that is the person's own, where a link leads to
// what is meant: a deck's profile.
func (a *app) writeOwn(ctx context.Context, path string, data []byte, force bool) error {
	path, err := stage.Follow(path)
	if err != nil {
		return err
	}
	return a.writeAll(ctx, []output{{path, data}}, false, force)
}
