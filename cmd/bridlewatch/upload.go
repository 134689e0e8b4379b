package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"bridlewatch/collector/store/exchange"
	"bridlewatch/dashboards/access"
	"bridlewatch/dashboards/intake"
)

// uploads is the door of the pages to the inbox: it hands in what somebody
// sends, as the command line does on the box. One file is in hand at a time.
type uploads struct {
	station *station
	most    int64

	mu     sync.Mutex
	inHand *upload
}

// upload is the file in hand. What is exported of it is kept beside the file.
type upload struct {
	job  string // its folder; "" while it is taken in
	Name string
	File string // as its owner calls it
	Kept string // as it is called in the folder
	By   access.Actor
	At   time.Time
	Step intake.State // Trying, Running or Undoing
}

// leaveFree is what a file must leave of the disk, so that history goes on.
const leaveFree = 1 << 30

var errImportName = fmt.Errorf("give the import a name of at most %d letters", intake.MostName)

// door is nil where no file is taken. A file that waited when the service was
// stopped waits again.
func (s *station) door(ctx context.Context) (intake.Door, error) {
	u := &uploads{station: s, most: s.config.Service.ImportUpload}
	if u.most == 0 || s.origin.Rehearsal {
		return nil, u.clear()
	}
	return u, u.restore(ctx)
}

// Most is the size of the largest file that is taken.
func (u *uploads) Most() int64 { return u.most }

// HandIn streams a file into the inbox and orders a dry run.
func (u *uploads) HandIn(ctx context.Context, by access.Actor, name, file string, body io.Reader) error {
	file = filepath.Base(strings.ReplaceAll(file, "\\", "/"))
	kind := strings.ToLower(filepath.Ext(file))
	switch name = strings.TrimSpace(name); {
	case name == "" || len(name) > intake.MostName:
		return errImportName
	case kind != ".csv" && kind != ".parquet":
		return fmt.Errorf("%q is neither .csv nor .parquet", file)
	}
	if free := freeBytes(u.station.dir); free < u.most+leaveFree {
		return fmt.Errorf("the disk has %.1f GB left: a file of up to %.1f MB must leave 1 GB for history", float64(free)/1e9, float64(u.most)/1e6)
	}
	x := &upload{Name: name, File: file, Kept: "data" + kind, By: by, At: time.Now(), Step: intake.Trying}
	if err := u.take(x); err != nil {
		return err
	}
	job, err := u.store(x, body)
	if err == nil {
		err = u.station.access.Record(ctx, by, "handed in a file to import", name, "", file)
	}
	if err == nil {
		err = u.order(job, order{File: x.Kept, Name: name, DryRun: true, Person: &x.By})
	}
	u.mu.Lock()
	defer u.mu.Unlock()
	if err != nil {
		u.inHand = nil
		if job != "" {
			err = errors.Join(err, os.RemoveAll(job))
		}
		return err
	}
	x.job = job
	return nil
}

// take makes x the file in hand.
func (u *uploads) take(x *upload) error {
	u.mu.Lock()
	defer u.mu.Unlock()
	if _, err := u.look(); err != nil {
		return err
	}
	if u.inHand != nil {
		return fmt.Errorf("%s is in hand: confirm or discard it first", u.inHand.Name)
	}
	u.inHand = x
	return nil
}

// store makes a job of the file, on disk when it returns. The error of a body
// that is too large is kept.
func (u *uploads) store(x *upload, body io.Reader) (job string, err error) {
	if err := u.clear(); err != nil {
		return "", err
	}
	job = u.folder()
	if err := os.Mkdir(job, 0o700); err != nil {
		return "", fmt.Errorf("hand in: %w", err)
	}
	out, err := os.OpenFile(filepath.Join(job, x.Kept), os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return job, fmt.Errorf("hand in: %w", err)
	}
	n, err := io.Copy(out, body)
	if err = errors.Join(err, out.Sync(), out.Close()); err != nil {
		return job, fmt.Errorf("%s could not be taken in: %w", x.File, err)
	}
	if n == 0 {
		return job, fmt.Errorf("%s is empty", x.File)
	}
	return job, x.keep(job)
}

// order gives a job to the service, as the command line does.
func (u *uploads) order(job string, o order) error {
	if err := os.Remove(filepath.Join(job, replyFile)); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("hand in: %w", err)
	}
	if err := writeJSON(filepath.Join(job, orderFile), o); err != nil {
		return fmt.Errorf("hand in: %w", err)
	}
	return nil
}

// Confirm imports the file that was tried.
func (u *uploads) Confirm(_ context.Context, by access.Actor, name string) error {
	u.mu.Lock()
	defer u.mu.Unlock()
	if im, _ := u.look(); im == nil || im.Name != name || im.State != intake.Tried {
		return fmt.Errorf("no import %q waits to be confirmed; it may have been by somebody else", name)
	}
	x := u.inHand
	x.By, x.Step = by, intake.Running
	if err := x.keep(x.job); err != nil {
		return err
	}
	return u.order(x.job, order{File: x.Kept, Name: x.Name, Person: &x.By})
}

// Discard forgets the file in hand.
func (u *uploads) Discard(ctx context.Context, by access.Actor, name string) error {
	u.mu.Lock()
	defer u.mu.Unlock()
	im, _ := u.look()
	switch {
	case im == nil || im.Name != name:
		return fmt.Errorf("no import %q is in hand", name)
	case im.State.Busy():
		return fmt.Errorf("%s is being worked at: wait until that has ended", name)
	}
	if err := u.station.access.Record(ctx, by, "discarded a file to import", name, "", u.inHand.File); err != nil {
		return err
	}
	job := u.inHand.job
	u.inHand = nil
	return os.RemoveAll(job)
}

// Undo takes back an import.
func (u *uploads) Undo(ctx context.Context, by access.Actor, name string) error {
	known, err := exchange.List(ctx, u.station.store)
	if err != nil {
		return err
	}
	if !slices.ContainsFunc(known, func(x exchange.Imported) bool { return x.ID == name && x.State != "undone" }) {
		return fmt.Errorf("there is no import %q to take back", name)
	}
	x := &upload{Name: name, By: by, At: time.Now(), Step: intake.Undoing}
	if err := u.take(x); err != nil {
		return err
	}
	u.mu.Lock()
	defer u.mu.Unlock()
	x.job, err = os.MkdirTemp(filepath.Join(u.station.dir, inboxDir), "job-")
	if err == nil {
		err = u.order(x.job, order{Undo: name, Person: &x.By})
	}
	if err != nil {
		u.inHand = nil
	}
	return err
}

// look says how the file in hand is, nil when there is none. What has been
// carried out or has waited too long is in hand no more.
func (u *uploads) look() (*intake.Import, error) {
	x := u.inHand
	if x == nil {
		return nil, nil
	}
	im := &intake.Import{Name: x.Name, State: x.Step, File: x.File, By: x.By.Name, At: x.At, Zone: u.zone(), Rows: int(u.station.rows.Load())}
	if x.job == "" {
		return im, nil
	}
	text, err := os.ReadFile(filepath.Join(x.job, replyFile))
	if errors.Is(err, fs.ErrNotExist) {
		return im, nil
	}
	var r reply
	if err == nil {
		err = json.Unmarshal(text, &r)
	}
	switch {
	case err != nil:
		return im, err
	case x.Step == intake.Trying && x.old(time.Now()):
		u.inHand = nil
		return nil, u.drop(x, "it waited too long")
	case r.Error != "":
		im.State, im.Trouble = intake.Refused, r.Error
	case x.Step == intake.Trying:
		im.State, im.Report = intake.Tried, r.Report
	default:
		u.inHand = nil
		return nil, os.RemoveAll(x.job)
	}
	return im, nil
}

// zone is how times without a zone are read.
func (u *uploads) zone() string {
	if z := u.station.config.History.Zone; z != nil {
		return z.String()
	}
	return "UTC"
}

// Imports lists what is in hand, then what was imported.
func (u *uploads) Imports(ctx context.Context) ([]intake.Import, error) {
	u.mu.Lock()
	now, err := u.look()
	u.mu.Unlock()
	var all []intake.Import
	if now != nil {
		all = append(all, *now)
	}
	known, listed := exchange.List(ctx, u.station.store)
	for _, x := range known {
		if now != nil && x.ID == now.Name && now.State != intake.Tried {
			continue // told above
		}
		im := intake.Import{Name: x.ID, At: x.At, From: x.From, To: x.To, Report: x.Report, State: intake.Interrupted, Zone: u.zone()}
		switch x.State {
		case "done":
			im.State = intake.Done
		case "undone":
			im.State = intake.Undone
		}
		if x.Report != nil {
			im.Rows = x.Report.Rows
		}
		all = append(all, im)
	}
	return all, errors.Join(err, listed)
}
