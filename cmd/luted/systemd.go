package main

import (
	"context"
	"log/slog"
	"sync"
	"time"

	systemd "github.com/coreos/go-systemd/v22/daemon"
)

// manager keeps systemd informed, if it started us (Type=notify): ready, alive, stopping.
type manager struct {
	cancel context.CancelFunc
	done   sync.WaitGroup
}

// tellManager says that we are ready and, if a watchdog is set, goes on saying that we live as long as
// the pipeline's beat is younger than the watchdog's time.
func tellManager(ctx context.Context, log *slog.Logger, beat func() time.Time) *manager {
	tellSystemd(log, systemd.SdNotifyReady)
	ctx, cancel := context.WithCancel(ctx)
	m := &manager{cancel: cancel}
	m.done.Go(func() { <-ctx.Done(); tellSystemd(log, systemd.SdNotifyStopping) })
	limit, err := systemd.SdWatchdogEnabled(false)
	if err != nil {
		log.Warn("systemd's watchdog is not served", keyErr, err)
	}
	if err != nil || limit == 0 {
		return m
	}
	m.done.Go(func() { watchdog(ctx, limit, beat, func() { tellSystemd(log, systemd.SdNotifyWatchdog) }) })
	return m
}

// watchdog reports life twice within the limit, unless the pipeline has stood still for that long.
func watchdog(ctx context.Context, limit time.Duration, beat func() time.Time, alive func()) {
	ticker := time.NewTicker(limit / 2)
	defer ticker.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-ticker.C:
		}
		if time.Since(beat()) < limit {
			alive()
		}
	}
}

// stopped ends it and waits.
func (m *manager) stopped() {
	m.cancel()
	m.done.Wait()
}

func tellSystemd(log *slog.Logger, state string) {
	if _, err := systemd.SdNotify(false, state); err != nil {
		log.Warn("systemd cannot be told", "state", state, keyErr, err)
	}
}
