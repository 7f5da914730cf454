// Package alarm is the life cycle of alarms by ANSI/ISA-18.2-2016 and IEC 62682: a pure state machine.
// What the analysis raises and clears, and what people do about it, goes in; transitions come out.
//
// The invariants: an alarm is in exactly one state; every change of state is a Transition, and there is
// no Transition without one; Active is always what the analysis said last, whatever people have done;
// nothing here reads a clock.
//
// # The states
//
// A plain alarm and a latching one differ only when the condition goes: a latching alarm (gas level
// high, unless the Book says otherwise) stands until a person has acknowledged and reset it.
//
//	state                          condition   meaning
//	normal                         gone        nothing to say
//	unacknowledged                 present     nobody has taken note yet
//	acknowledged                   present     somebody knows
//	returned to normal, unack.     gone        it came and went, and nobody has taken note
//	latched, unacknowledged        gone        the same for a latching alarm
//	latched, acknowledged          gone        somebody knows; waits for reset
//	shelved                        either      hidden by a person, for a time, for a reason
//	suppressed by design           either      hidden by logic while it has no meaning
//	out of service                 either      hidden by a person, for maintenance, until put back
//
// # The transitions
//
// Rows are the present state, columns the action; "." changes no state, "x" is refused with a sentence.
// back means: unacknowledged while the condition is present, else latched, unacknowledged if a latching
// alarm was raised and not reset, else normal. Whoever hid an alarm is shown it afresh.
//
//	                 raise   clear    ack    shelve  unshelve expire  remove  return  suppress end-s.  reset
//	normal           unack   .        x      shelved x        .       out     x       suppr.   x       x
//	unack            .       rtn|lu   acked  shelved x        .       out     x       suppr.   x       x
//	acked            .       normal|la x     shelved x        .       out     x       suppr.   x       x
//	rtn              unack   .        normal shelved x        .       out     x       suppr.   x       x
//	latched unack    unack   .        la     shelved x        .       out     x       suppr.   x       x
//	latched acked    unack   .        x      shelved x        .       out     x       suppr.   x       normal
//	shelved          .       .        x      x       back     back    out     x       suppr.   x       x
//	suppressed       .       .        x      x       x        .       out     x       x        back    x
//	out of service   .       .        x      x       x        .       x       back    x        x       x
//
// "rtn|lu" and "normal|la" are the plain and the latching alarm. The standard's figure of the life cycle
// leaves to the site what leads out of suppression into which state, and whether one kind of suppression
// may replace another; the rows above are our choice there. (The figure is from memory; the names of the
// states are as published.)
package alarm
