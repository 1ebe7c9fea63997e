package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/natefinch/atomic"
)

// output is one file to write.
type output struct {
	path string
	data []byte
}

// filling is one file to write that is too large to hold: fill writes it.
type filling struct {
	path string
	fill func(*os.File) error
}

// writeAll is fillAll for files that are held.
func writeAll(files []output, mkdir, force bool) error {
	return fillAll(fillings(files), mkdir, force)
}

func fillings(files []output) []filling {
	var fs []filling
	for _, f := range files {
		fs = append(fs, filling{f.path, func(w *os.File) error {
			_, err := w.Write(f.data)
			return err
		}})
	}
	return fs
}

// fillAll writes all the files or none: every target is looked at first, then
// every file is written whole beside its place, and only then are they moved
// there. An existing file is replaced only with force. Folders that do not
// exist are made when mkdir is set, and taken away again if the writing fails.
func fillAll(files []filling, mkdir, force bool) (err error) {
	var made []string
	defer func() {
		if err != nil {
			for i := len(made) - 1; i >= 0; i-- {
				os.Remove(made[i]) // fails, as it should, on a folder that is not empty
			}
		}
	}()
	for _, f := range files {
		dir := filepath.Dir(f.path)
		if mkdir {
			made, err = makeFolders(dir, made)
			if err != nil {
				return err
			}
		}
		if st, err := os.Stat(dir); err != nil {
			return fmt.Errorf("%s: no such folder; make it first or choose another", dir)
		} else if !st.IsDir() {
			return fmt.Errorf("%s: not a folder; choose another place to write to", dir)
		}
		if err := vacant(f.path, force); err != nil {
			return err
		}
	}
	var staged []string
	defer func() {
		if err != nil {
			for _, s := range staged {
				os.Remove(s)
			}
		}
	}()
	for _, f := range files {
		tmp, err := stage(f)
		if err != nil {
			return fmt.Errorf("%s: cannot be written: %w; choose another place", f.path, bare(err))
		}
		staged = append(staged, tmp)
	}
	for i, f := range files {
		if err := atomic.ReplaceFile(staged[i], f.path); err != nil {
			return fmt.Errorf("%s: cannot be written: %w", f.path, bare(err))
		}
	}
	return nil
}

// vacant says whether a file may be written in this place. Commands that work
// long ask before they begin.
func vacant(path string, force bool) error {
	switch st, err := os.Lstat(path); {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return fmt.Errorf("%s: cannot be written to: %w", path, bare(err))
	case st.IsDir():
		return fmt.Errorf("%s: is a folder; give the name of a file", path)
	case !force:
		return fmt.Errorf("%s: exists already; --force replaces it", path)
	}
	return nil
}

// makeFolders makes dir and what is missing above it, and adds what it made.
func makeFolders(dir string, made []string) ([]string, error) {
	if _, err := os.Stat(dir); err == nil || !errors.Is(err, fs.ErrNotExist) {
		return made, nil // what else is wrong with it is said by the caller
	}
	made, err := makeFolders(filepath.Dir(dir), made)
	if err != nil {
		return made, err
	}
	if err := os.Mkdir(dir, 0o777); err != nil {
		return made, fmt.Errorf("%s: cannot be made: %w; choose another place", dir, bare(err))
	}
	return append(made, dir), nil
}

// stage writes a file whole, under a hidden name in the folder of its target,
// so that moving it there is one step of the file system.
func stage(f filling) (name string, err error) {
	for i := 0; ; i++ {
		name = filepath.Join(filepath.Dir(f.path), fmt.Sprintf(".longside-%d-%d", os.Getpid(), i))
		// 0666 less the umask, like any file that the person makes.
		w, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
		if errors.Is(err, fs.ErrExist) && i < 10000 {
			continue
		}
		if err != nil {
			return "", err
		}
		err = f.fill(w)
		if err == nil {
			// Without this a crash just after the move could leave an empty file.
			err = w.Sync()
		}
		if cerr := w.Close(); err == nil {
			err = cerr
		}
		if err != nil {
			os.Remove(name)
			return "", err
		}
		return name, nil
	}
}
