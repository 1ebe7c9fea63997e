package main

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"

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

// fillAll writes files, all of a folder or none. Every write of a command goes
// through here. Few commands write to two folders; then every place is looked at
// before anything is written, and an error says what was written by then.
func (a *app) fillAll(ctx context.Context, files []stage.File, mkdir, force bool) error {
	var dirs []string
	in, paths := map[string][]stage.File{}, map[string][]string{}
	for _, f := range files {
		dir := filepath.Dir(f.Path)
		if in[dir] == nil {
			dirs = append(dirs, dir)
		}
		in[dir], paths[dir] = append(in[dir], f), append(paths[dir], f.Path)
	}
	for _, dir := range dirs[:max(0, len(dirs)-1)] {
		if err := a.vacant(ctx, force, paths[dir]...); err != nil {
			return err
		}
	}
	var before []string
	for i := len(dirs) - 1; i >= 0; i-- { // the last was not looked at yet: it goes first
		dir := dirs[i]
		if err := stage.Write(ctx, in[dir], stage.Options{Force: force, Folders: mkdir, Found: a.found}); err != nil {
			if len(before) > 0 && ctx.Err() == nil {
				return fmt.Errorf("%w; before that, %s %s written", err, plain(strings.Join(before, ", ")), plural(len(before), "was", "were"))
			}
			return err
		}
		before = append(before, paths[dir]...)
		a.wrote = append(a.wrote, paths[dir]...)
	}
	return nil
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
