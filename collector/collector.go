// Package collector is the pipeline: read, analyse, alarm, archive, publish.
//
// The idea: every scan, wherever it comes from, takes one path. A poller (one goroutine a line) hands
// over a sweep; one goroutine at a time analyses it, keeps the alarm book, gathers scans, events, alarm
// states and rest points into one batch, and commits the batch to the archive as one transaction. Only
// then do the page, the metrics and the subscribers learn of it. The outlets read the archive from their
// own cursors, at their own pace.
//
// The invariants: scans of a still are strictly later than those before, whatever the wall clock does.
// A scan is durable at the latest one second after it was read, unless the archive refuses to be
// written; then it waits in memory, within a bound, and everybody is told. What the archive holds is
// what the analysis saw, in the same order, so replaying the archive gives the same events, byte for
// byte, and Recover needs nothing but the last rest point and the scans after it.
package collector
