package main

import (
	"fmt"
	"runtime/debug"
)

type versionCommand struct{}

// Run prints the version in one line.
func (versionCommand) Run(s streams) error {
	_, err := fmt.Fprintln(s.out, "luted", version())
	return err
}

// version is the module's version, or the commit it was built from.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "(unknown)"
	}
	v := info.Main.Version
	if v != "" && v != "(devel)" {
		return v
	}
	var commit, dirty string
	for _, s := range info.Settings {
		switch {
		case s.Key == "vcs.revision":
			commit = s.Value[:min(12, len(s.Value))]
		case s.Key == "vcs.modified" && s.Value == "true":
			dirty = ", changed"
		}
	}
	if commit == "" {
		return "(development)"
	}
	return "(development, " + commit + dirty + ")"
}
