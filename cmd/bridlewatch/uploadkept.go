package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"

	"bridlewatch/collector/store/exchange"
	"bridlewatch/dashboards/intake"
)

// The file that was handed in is a job in a folder of its own, which a restart
// does not clear: one file, what is known of it, and its order. The folder is
// the bound of their number, and Most that of their size.
const (
	uploadDir  = "uploaded"
	uploadFile = "upload.json"
)

// keepUpload is how long a file waits for somebody to confirm or discard it.
const keepUpload = 7 * 24 * time.Hour

func (u *uploads) folder() string { return filepath.Join(u.station.dir, uploadDir) }

// keep writes what is known of the file beside it, and makes both durable.
func (x *upload) keep(job string) error {
	if err := writeJSON(filepath.Join(job, uploadFile), x); err != nil {
		return fmt.Errorf("hand in: %w", err)
	}
	return nil
}

func (x *upload) old(now time.Time) bool { return now.Sub(x.At) > keepUpload }

// clear removes the folder.
func (u *uploads) clear() error {
	if err := os.RemoveAll(u.folder()); err != nil {
		return fmt.Errorf("clear what was handed in: %w", err)
	}
	return nil
}

// drop forgets a file that nobody confirmed.
func (u *uploads) drop(x *upload, why string) error {
	u.station.log.Warn("a file that was handed in was removed", "name", x.Name, "file", x.File, "by", x.By.Name, "because", why)
	return u.clear()
}

// restore takes the file in hand that waited when the service stopped and has
// it tried again, for history may have changed. An import that was stopped
// half-way waits as well: confirming it again goes on. What is not whole, too
// large or too old is removed.
func (u *uploads) restore(ctx context.Context) error {
	text, err := os.ReadFile(filepath.Join(u.folder(), uploadFile))
	if errors.Is(err, fs.ErrNotExist) { // none, or one that was cut off while it came in
		return u.clear()
	}
	if err != nil {
		return fmt.Errorf("what was handed in: %w", err)
	}
	x := &upload{}
	if err := json.Unmarshal(text, x); err != nil {
		return u.drop(x, err.Error())
	}
	why, err := u.unfit(ctx, x)
	switch {
	case err != nil:
		return err
	case why != "":
		return u.drop(x, why)
	}
	x.job, x.Step = u.folder(), intake.Trying
	u.inHand = x
	return u.order(x.job, order{File: x.Kept, Name: x.Name, DryRun: true, Person: &x.By})
}

// unfit says why a file need not wait any more, "" when it must.
func (u *uploads) unfit(ctx context.Context, x *upload) (string, error) {
	st, err := os.Stat(filepath.Join(u.folder(), filepath.Base(x.Kept)))
	switch {
	case err != nil:
		return err.Error(), nil
	case st.Size() > u.most:
		return "it is larger than service.import_upload allows now", nil
	case x.old(time.Now()):
		return "it waited too long", nil
	case x.Step != intake.Running:
		return "", nil
	}
	known, err := exchange.List(ctx, u.station.store)
	if err != nil {
		return "", err
	}
	if slices.ContainsFunc(known, func(im exchange.Imported) bool { return im.ID == x.Name && im.State == "done" }) {
		return "it is imported", nil
	}
	return "", nil
}
