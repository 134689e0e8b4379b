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
	"time"

	"golang.org/x/sys/unix"

	"bridlewatch/collector/store/replacement"
	"bridlewatch/dashboards/access"
)

// The inbox is how the command line hands an import to the service that has
// the data directory open. A job is a folder: the file first, then the order,
// then, from the service, the reply. Who may write into the data directory may
// hand in.
const (
	inboxDir  = "inbox"
	orderFile = "order.json"
	takenFile = "order.taken"
	replyFile = "reply.json"
)

// How often either side looks, and how long the command waits for the service
// to take its order.
const (
	inboxEvery    = 250 * time.Millisecond
	inboxPatience = 30 * time.Second
)

// handIn gives an order to the running service and waits for the reply.
func handIn(ctx context.Context, dataDir string, o order, locked error) (r reply, err error) {
	job, err := os.MkdirTemp(filepath.Join(dataDir, inboxDir), "job-")
	if errors.Is(err, fs.ErrNotExist) {
		return r, fmt.Errorf("%w, and not by the service: wait until that command has ended", locked)
	}
	if errors.Is(err, fs.ErrPermission) {
		return r, fmt.Errorf("%w; only the owner of the data directory imports while the service runs: try sudo", locked)
	}
	if err != nil {
		return r, fmt.Errorf("hand in: %w", err)
	}
	defer os.RemoveAll(job) // an order not carried out is withdrawn
	o.By = account()
	if o.File != "" {
		file := "data" + filepath.Ext(o.File)
		if err := copyFile(o.File, filepath.Join(job, file)); err != nil {
			return r, fmt.Errorf("import: %w", err)
		}
		o.File = file
	}
	if err := placeOrder(job, o); err != nil {
		return r, fmt.Errorf("hand in: %w", err)
	}
	err = await(ctx, job, &r)
	return r, err
}

// placeOrder hands the job over: once the order has its name, the service may
// take it.
func placeOrder(job string, o order) error {
	f, err := replacement.Create(filepath.Join(job, orderFile), 0o600)
	if err != nil {
		return err
	}
	if err := errors.Join(json.NewEncoder(f).Encode(o), entrust(job)); err != nil {
		return errors.Join(err, f.Discard())
	}
	return f.Commit()
}

// entrust gives what root handed in to the owner of the inbox, whom the
// service runs as.
func entrust(job string) error {
	if os.Geteuid() != 0 {
		return nil
	}
	var owner unix.Stat_t
	if err := unix.Stat(filepath.Dir(job), &owner); err != nil {
		return err
	}
	return filepath.WalkDir(job, func(path string, _ fs.DirEntry, err error) error {
		return errors.Join(err, os.Lchown(path, int(owner.Uid), int(owner.Gid)))
	})
}

// await waits for the reply.
func await(ctx context.Context, job string, r *reply) error {
	for began := time.Now(); ; {
		text, err := os.ReadFile(filepath.Join(job, replyFile))
		if err == nil {
			return json.Unmarshal(text, r)
		}
		if _, err := os.Stat(filepath.Join(job, takenFile)); err != nil && time.Since(began) > inboxPatience {
			return withCode(exitUnreachable, fmt.Errorf("the service has not taken the order within %s; is it running?", inboxPatience))
		}
		if _, err := os.Stat(job); err != nil {
			return withCode(exitUnreachable, errors.New("the service was restarted before it was done; import again, which goes on where it stopped"))
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(inboxEvery):
		}
	}
}

func copyFile(from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close() // only read
	out, err := os.OpenFile(to, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	return errors.Join(err, out.Close())
}

func writeJSON(file string, v any) error {
	return replacement.Write(file, 0o600, func(w io.Writer) error { return json.NewEncoder(w).Encode(v) })
}

// openInbox clears what an earlier run left and begins to take orders.
func (s *station) openInbox() error {
	dir := filepath.Join(s.dir, inboxDir)
	if err := os.RemoveAll(dir); err != nil {
		return fmt.Errorf("clear inbox: %w", err)
	}
	if err := os.Mkdir(dir, 0o700); err != nil {
		return fmt.Errorf("make inbox: %w", err)
	}
	return nil
}

// closeInbox says that nobody takes orders any more.
func (s *station) closeInbox() error { return os.RemoveAll(filepath.Join(s.dir, inboxDir)) }

// takeOrders carries out orders, one after another, until ctx ends.
func (s *station) takeOrders(ctx context.Context) {
	tick := time.NewTicker(inboxEvery)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		for _, jobs := range []string{filepath.Join(inboxDir, "job-*"), uploadDir} {
			waiting, err := filepath.Glob(filepath.Join(s.dir, jobs, orderFile))
			if err != nil {
				continue // the patterns are constant
			}
			for _, file := range waiting {
				if err := s.takeOrder(ctx, filepath.Dir(file)); err != nil {
					s.log.Error("an order was not carried out", "error", err)
				}
			}
		}
	}
}

func (s *station) takeOrder(ctx context.Context, job string) error {
	taken := filepath.Join(job, takenFile)
	if err := os.Rename(filepath.Join(job, orderFile), taken); err != nil {
		return err
	}
	text, err := os.ReadFile(taken)
	if err != nil {
		return err
	}
	var o order
	if err := json.Unmarshal(text, &o); err != nil {
		return err
	}
	if o.File != "" {
		o.File = filepath.Join(job, filepath.Base(o.File))
	}
	s.rows.Store(0)
	r := o.carryOut(ctx, s.config, s.store, func(rows int) { s.rows.Store(int64(rows)) })
	s.noteImport(ctx, o, r)
	return writeJSON(filepath.Join(job, replyFile), r)
}

// noteImport writes into the audit log what was changed.
func (s *station) noteImport(ctx context.Context, o order, r reply) {
	if o.DryRun || r.Error != "" {
		return
	}
	what, name, result := "imported history", o.Name, ""
	if o.Undo != "" {
		what, name, result = "took back the import", o.Undo, fmt.Sprintf("%d values", r.Undone)
	} else {
		result = fmt.Sprintf("%d rows", r.Report.Rows)
	}
	by := access.Actor{Name: "console (" + o.By + ")", Role: access.Admin, Via: access.ByConsole, From: "this machine"}
	if o.Person != nil {
		by = *o.Person
	}
	if err := s.access.Record(ctx, by, what, name, "", result); err != nil {
		s.log.Error("an import is missing in the audit log", "name", name, "error", err)
	}
}
