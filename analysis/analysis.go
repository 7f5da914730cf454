// Package analysis turns a still's scans into phases, faults and run summaries.
//
// The idea: analysis is a fold. Step takes one Scan and returns the events it caused, so live polling,
// replay of a recording and recovery after a crash give the same events for the same scans, byte for
// byte.
//
// The invariant: nothing here reads a clock, a file or a global, starts a goroutine or writes a log.
// Now is Scan.At. A bad value never enters a computation.
//
// Rest points make recovery exact. Whenever a still has been idle long enough with nothing pending,
// Step replaces its own state by that of New(still, memory): from there on, an analyser that was never
// stopped and one made from the same Memory are the same by construction.
package analysis
