package modbus

import (
	"errors"
	"strings"
	"testing"
	"time"

	"luted/config"
)

// TestQuestion plays the exchanges after a timeout on a serial line, to the byte: before three registers
// are asked for again, one is.
func TestQuestion(t *testing.T) {
	const (
		three, one   = "11 03 00 6B 00 03", "11 03 00 6B 00 01"
		reply, short = "11 03 06 02 2B 00 00 00 64", "11 03 02 02 2B"
		two          = "11 03 00 6B 00 02"
		refusal      = "11 83 02"
		stale        = "11 03 06 00 00 00 00 00 00"
	)
	type exchange struct{ ask, answer string }
	for _, tt := range []struct {
		name  string
		first string // what the first request gets
		then  []exchange
		kind  Kind // of the second read; empty: it succeeds
	}{
		{"answered", "", []exchange{{one, short}, {three, reply}}, ""},
		{"refused: a device has fewer registers than it is asked for", "", []exchange{{one, refusal}, {three, reply}}, ""},
		{"the late answer comes to the question", "", []exchange{{one, stale}}, KindMalformed},
		{"no answer to the question either", "", []exchange{{one, ""}}, KindTimeout},
		{"after a wrong checksum too", "11 03 06 02 2B 00 00 00 64 00 00", []exchange{{one, short}, {three, reply}}, ""},
		{"not after an exception", withCRC(refusal), []exchange{{three, reply}}, ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := &script{steps: []step{{want: withCRC(three)}}}
			if tt.first != "" {
				s.steps[0].reply = []string{tt.first}
			}
			for _, e := range tt.then {
				st := step{want: withCRC(e.ask)}
				if e.answer != "" {
					st.reply = []string{withCRC(e.answer)}
				}
				s.steps = append(s.steps, st)
			}
			l := scripted(t, true, s)
			if _, err := l.Read(t.Context(), 0x11, config.Holding, 0x6B, 3); err == nil {
				t.Fatal("the first read succeeded")
			}
			if _, err := l.Read(t.Context(), 0x11, config.Holding, 0x6B, 3); tt.kind == "" && err != nil || tt.kind != "" && KindOf(err) != tt.kind {
				t.Errorf("the second read: %v, want %q", err, tt.kind)
			}
			if len(s.steps) > 0 {
				t.Errorf("not asked: %+v", s.steps)
			}
			if tt.kind != "" {
				return
			}
			s.steps = []step{{want: withCRC(three), reply: []string{withCRC(reply)}}} // and no more questions
			if _, err := l.Read(t.Context(), 0x11, config.Holding, 0x6B, 3); err != nil {
				t.Errorf("the third read: %v", err)
			}
		})
	}
	// Two replies are out: the question is of a third length, and another device is not asked any.
	s := &script{steps: []step{{want: withCRC(three)}, {want: withCRC(one)}, {want: withCRC("12 03 00 6B 00 03"), reply: []string{withCRC("12 03 06 02 2B 00 00 00 64")}},
		{want: withCRC(two), reply: []string{withCRC("11 03 04 02 2B 00 00")}}, {want: withCRC(three), reply: []string{withCRC(reply)}}}}
	l := scripted(t, true, s)
	for _, tt := range []struct {
		unit byte
		ok   bool
	}{{0x11, false}, {0x11, false}, {0x12, true}, {0x11, true}} {
		if _, err := l.Read(t.Context(), tt.unit, config.Holding, 0x6B, 3); (err == nil) != tt.ok {
			t.Errorf("device %#x: %v", tt.unit, err)
		}
	}
}

// TestBehind: a device to which every question would look like an old one is left alone for a while.
func TestBehind(t *testing.T) {
	l := lateReplies{}
	now := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	for _, table := range []config.Table{config.Holding, config.Coil} {
		most := MaxRegisters
		if bits(table) {
			most = MaxBits / 8
		}
		for i := range most {
			ask, err := l.question(1, table, 1, now)
			if err != nil || i > 0 && ask == 0 {
				t.Fatalf("%s, %d replies out: %d, %v", tableName(table), i, ask, err)
			}
			l.note(1, table, max(1, ask), ErrSilent, now)
		}
		if ask, err := l.question(1, table, 1, now.Add(lateAfter)); !errors.Is(err, ErrSilent) || !strings.Contains(err.Error(), "still out") {
			t.Errorf("%s: %d, %v", tableName(table), ask, err)
		}
	}
	if ask, err := l.question(1, config.Coil, 1, now.Add(lateAfter+1)); ask != 0 || err != nil {
		t.Errorf("later: %d, %v", ask, err)
	}
}
