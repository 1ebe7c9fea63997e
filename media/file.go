package media

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"

	"longside/media/scan"
)

// openRegular opens a file to read sound from. Pipes and devices are refused
// before they are opened, for opening one can wait for ever.
func openRegular(path string) (*os.File, fs.FileInfo, error) {
	st, err := os.Stat(path)
	if err != nil {
		return nil, nil, plain(err)
	}
	if st.IsDir() {
		return nil, nil, errors.New("is a folder, not a file")
	}
	if !st.Mode().IsRegular() {
		return nil, nil, errors.New("is a pipe or a device, not a file")
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, nil, plain(err)
	}
	return f, st, nil
}

// readFile reads one file's length and tags.
func readFile(path string, o Options) (Track, error) {
	f, st, err := openRegular(path)
	if err != nil {
		return Track{}, err
	}
	defer f.Close()
	look := scan.File
	if o.Count {
		look = scan.Walk
	}
	info, err := look(f, st.Size())
	if err != nil {
		return Track{}, plain(err)
	}
	t := Track{
		Path: path, Size: st.Size(), ModTime: st.ModTime(),
		Length: info.Length(), LengthFrom: LengthFrom(info.From), Samples: info.Samples,
		SampleRate: info.Rate, Channels: info.Channels, Format: info.Format, Notes: info.Notes,
	}
	if o.Count {
		if err := count(f, info, &t); err != nil {
			return Track{}, err
		}
	}
	readTags(f, info, &t)
	if t.Title == "" {
		nameTitle(&t)
	}
	return t, nil
}

// plain takes the path and the system call's name out of an error: the caller
// names the file.
func plain(err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		err = pe.Err
	}
	switch {
	case errors.Is(err, fs.ErrPermission):
		return fmt.Errorf("may not be read: %w", fs.ErrPermission)
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("is not there: %w", fs.ErrNotExist)
	case errors.Is(err, io.ErrUnexpectedEOF):
		return errors.New("ends too early")
	}
	return err
}
