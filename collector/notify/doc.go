// Package notify tells people and programs about alarms: by mail, by webhook, and through a Prometheus
// Alertmanager.
//
// The idea: each channel is an outlet of the archive. It reads the alarm transitions of the journal from
// its own cursor (notify/mail, notify/webhook, notify/alertmanager), puts them into messages, and sends
// these one after the other. A message covers an unbroken stretch of the transitions it tells of, so the
// cursor moves past it the moment it is accepted.
//
// The invariants: every transition that a channel tells of is in exactly one message; messages go out in
// the order of the journal; a message is sent until it is accepted or refused for good. Only a crash
// between acceptance and the move of the cursor repeats one, and then with the same id.
//
// # What goes into a message
//
// Transitions of one still within Notify.Group of the first go out together; stills whose transitions
// interleave share a message, since the cursor can only move past an unbroken stretch. A high-priority
// alarm waits for nobody. In a flood (more than 10 alarms in 10 minutes: ISA-18.2) messages become summaries,
// one in ten minutes. What could not be sent for more than an hour is no news any more: it goes out as
// one summary of what happened meanwhile and what stands now. Every line says when it happened.
//
// Mail and webhook tell of alarms that appear, return to normal, or are hidden (shelved, suppressed,
// out of service) and shown again; the webhook also of every other transition. Alertmanager gets the
// present state of every alarm, again and again while it stands, and does its own grouping.
//
// # Mail
//
// Each recipient gets a mail of his own, so that what a server says about one mailbox concerns nobody
// else. The Message-ID is made of the numbers of the transitions: a mail that comes twice is known by
// it. A recipient refused for good (5yz) is set aside; one that is put off (4yz) has ten minutes once
// somebody else has the message.
//
// # The webhook
//
// A POST of JSON (type Payload) with these headers:
//
//	Content-Type: application/json
//	Idempotency-Key: the payload's id; the same message sent again has the same
//	X-Luted-Timestamp: the payload's sent, in Unix seconds
//	X-Luted-Signature: sha256=<hex>, if a secret is configured
//
// The signature is HMAC-SHA256 (RFC 2104) of the secret over the body, byte for byte. The body itself
// holds the time of sending, so that time is signed: a receiver checks the signature, then drops what
// was sent more than a few minutes ago, then drops an id (or the seq of single transitions) it has
// already taken. Any 2xx is acceptance. A refusal that concerns the message (400, 413, 422, ...) sets it
// aside; anything else is tried again, with Retry-After honoured. Redirects are not followed.
package notify
