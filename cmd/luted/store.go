package main

import (
	"context"
	"log/slog"

	"luted/collector/archive"
	"luted/config"
)

// openArchive opens the configured archive for writing.
func openArchive(ctx context.Context, cfg *config.Config, log *slog.Logger) (*archive.Archive, error) {
	return archive.Open(ctx, cfg.Archive.Path, archive.Options{Keep: cfg.Archive.Keep, MaxSize: cfg.Archive.MaxSize, Log: log})
}

func closeArchive(a *archive.Archive, log *slog.Logger) {
	if err := a.Close(); err != nil {
		log.Error("archive did not close cleanly; nothing that was stored is lost", keyErr, err)
	}
}
