package main

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"aplomb/analyze/check"
	"aplomb/analyze/logbook"
	"aplomb/cmd/internal/lookup"
	"aplomb/cmd/internal/output"
	"aplomb/cmd/internal/text"
	"aplomb/device"
	"aplomb/device/link"
)

// recordIntoVisit records into a visit of the logbook. It first prints the advice
// to stop, if the visit has one, and the next step of the plan.
func recordIntoVisit(cmd *cobra.Command, folder *lookup.Folder, v logbook.Visit, o environment, opt link.Options, m device.Metadata, how recordOptions) error {
	err := folder.With(func(l *logbook.Logbook) error {
		if err := l.Writable(); err != nil {
			return err
		}
		if how.out == "" {
			how.out, how.shownName = l.NewRecordingPath(m.Started), "recorded"
		}
		if how.stop = v.Advice(); how.stop != "" {
			fmt.Fprintln(cmd.ErrOrStderr(), text.Wrap(how.stop))
		}
		d, err := lookup.Dancer(l, m.Dancer)
		if err != nil {
			return err
		}
		for _, f := range device.Feet {
			how.watched[f] = d.Watched == f.String()
		}
		if how.releves, err = plannedReleves(l, v); err != nil {
			return err
		}
		var next strings.Builder
		err = output.Next(&next, l, v)
		fmt.Fprint(cmd.ErrOrStderr(), next.String())
		how.messages = append(how.messages, strings.FieldsFunc(next.String(), func(r rune) bool { return r == '\n' })...)
		return err
	})
	if err != nil {
		return err
	}
	how.begun = keepsVisit(folder, v)
	begun, ended := v, false
	how.until = func(ctx context.Context) bool {
		ended = painNoted(ctx, folder, begun)
		return ended
	}
	made, failed := recordFile(cmd, o, opt, m, how)
	if ended {
		fmt.Fprintln(cmd.ErrOrStderr(), "pain was noted in the visit: the recording was ended")
	}
	if now, err := visitNow(folder, v); err == nil { // otherwise adding the recording fails too
		v = now
	}
	if !made {
		return failed
	}
	if err := rememberPorts(folder, o, opt, &m); err != nil {
		text.Warnings(cmd.ErrOrStderr(), []string{notRemembered + err.Error()})
	}
	r, result, err := addToLogbook(cmd, folder, v, how.out, true)
	if err != nil {
		return errors.Join(failed, err)
	}
	checked, err := check.Measured(context.WithoutCancel(cmd.Context()), r.Path, result)
	if err != nil {
		return errors.Join(failed, err)
	}
	output.CheckLine(cmd.OutOrStdout(), checked, fmt.Sprintf("aplomb check --dancer %s --visit %s", text.Quoted(r.Dancer), r.VisitName))
	return errors.Join(failed, printNext(cmd, folder, v))
}

// keepsVisit returns the function that a recording into a visit calls once its file
// exists, because until then another program may have erased the dancer.
func keepsVisit(folder *lookup.Folder, v logbook.Visit) func() error {
	return func() error {
		return folder.With(func(l *logbook.Logbook) error { return l.KeepsVisit(v) })
	}
}

// painEvery is the interval at which a recording reads the pain of its visit.
const painEvery = time.Second

// painNoted waits until the pain noted in a visit gives the advice to stop, and reports
// whether it does. Advice that v has already does not count: the user has begun in spite
// of it. painNoted returns when ctx is done.
func painNoted(ctx context.Context, folder *lookup.Folder, v logbook.Visit) bool {
	tick := time.NewTicker(painEvery)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return false
		case <-tick.C:
		}
		now, err := visitNow(folder, v)
		if err == nil && now.Advice() != "" && now.Advice() != v.Advice() {
			return true
		}
	}
}

// visitNow returns a visit as the logbook has it now.
func visitNow(folder *lookup.Folder, v logbook.Visit) (now logbook.Visit, err error) {
	err = folder.With(func(l *logbook.Logbook) error {
		now, err = l.Visit(v.ID)
		return err
	})
	return now, err
}

// plannedReleves returns the number of relevés of the next step of a visit's plan, 0
// where there is none.
func plannedReleves(l *logbook.Logbook, v logbook.Visit) (int, error) {
	c, err := l.PlanProgress(v.ID)
	switch {
	case errors.Is(err, logbook.ErrNotFound):
		return 0, nil
	case err != nil || c.Next == len(c.Plan.Steps):
		return 0, err
	}
	return c.Plan.Steps[c.Next].Releves, nil
}
