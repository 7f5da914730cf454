// Package export gives what luted knows to other programs: as Prometheus metrics on request, and as
// points written to InfluxDB.
//
// The idea: the two differ in who asks. Metrics are the present moment, kept in memory, and cost nothing
// when nobody scrapes. InfluxDB gets everything: an outlet that reads the archive from its own cursor,
// so that an outage of any length is caught up in order.
//
// The invariants: a bad value is never a number, here or there: a metric disappears, a field is absent.
// The cursor moves only past points that the server has accepted or that were set aside with a reason;
// and a point written twice is the same point.
package export
