package archive

import (
	"fmt"
	"testing"
	"time"

	"luted/analysis"
)

// One commit of one scan of each still, as the pipeline makes one a second, with the sync that makes it
// durable. The disk decides most of it; fsync-less is what the program itself costs.
func BenchmarkCommit(b *testing.B) {
	for _, sync := range []bool{true, false} {
		for _, stills := range []int{1, 20, 200} {
			b.Run(fmt.Sprintf("sync=%v/stills=%d", sync, stills), func(b *testing.B) {
				a := open(b, newFile(b), Options{noSync: !sync})
				batch := Batch{Scans: make([]Scan, stills)}
				scans := plantScans(b, 1, t0, 1000)
				for i := range batch.Scans {
					batch.Scans[i].Still = fmt.Sprintf("still %03d", i)
					setLayout(b, a, batch.Scans[i].Still, plant)
				}
				b.ReportAllocs()
				n := 0
				for b.Loop() {
					for i := range batch.Scans {
						batch.Scans[i].At = t0.Add(time.Duration(n) * time.Second)
						batch.Scans[i].Values = scans[(n+i)%len(scans)].Values
					}
					if _, err := a.Commit(b.Context(), batch); err != nil {
						b.Fatal(err)
					}
					n++
				}
				b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*stills), "ns/scan")
			})
		}
	}
}

// sealedArchive has so many full segments of a still that is read once a second.
func sealedArchive(b *testing.B, segments int) *Archive {
	a := open(b, newFile(b), Options{noSync: true})
	setLayout(b, a, "north", plant)
	for i := range segments {
		var batch Batch
		for _, s := range plantScans(b, uint64(i), t0.Add(time.Duration(i)*segmentScans*time.Second+time.Duration(i)*time.Second), segmentScans) {
			batch.Scans = append(batch.Scans, Scan{"north", s})
		}
		commit(b, a, batch)
	}
	return a
}

func BenchmarkReadScans(b *testing.B) {
	a := sealedArchive(b, 20)
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		err := a.ReadScans(b.Context(), "north", time.Time{}, time.Time{}, func(Layout, analysis.Scan) error { n++; return nil })
		if err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "scans/s")
}

func BenchmarkReadFresh(b *testing.B) {
	a := open(b, newFile(b), Options{noSync: true})
	setLayout(b, a, "north", plant)
	var batch Batch
	for _, s := range plantScans(b, 1, t0, 4000) {
		batch.Scans = append(batch.Scans, Scan{"north", s})
	}
	commit(b, a, batch)
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		err := a.ReadScans(b.Context(), "north", time.Time{}, time.Time{}, func(Layout, analysis.Scan) error { n++; return nil })
		if err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "scans/s")
}

// What an outlet does every second: look for scans after its cursor.
func BenchmarkTail(b *testing.B) {
	a := sealedArchive(b, 20)
	last, err := a.LastScan(b.Context(), "north")
	if err != nil {
		b.Fatal(err)
	}
	fill := Batch{Scans: []Scan{{"north", plantScans(b, 1, last.Add(time.Second), 1)[0]}}}
	commit(b, a, fill)
	for b.Loop() {
		n := 0
		err := a.ReadScans(b.Context(), "north", last, time.Time{}, func(Layout, analysis.Scan) error { n++; return nil })
		if err != nil || n != 1 {
			b.Fatal(n, err)
		}
	}
}

// A month of scans, 12 channels: what a scan takes on the disk, everything included, and what sealing
// a segment costs.
func BenchmarkSealedSize(b *testing.B) {
	const segments = 100
	for b.Loop() {
		a := sealedArchive(b, segments)
		if err := a.checkpoint(b.Context()); err != nil {
			b.Fatal(err)
		}
		s := stats(b, a)
		b.ReportMetric(float64(s.SealedBytes)/float64(s.Scans), "bytes/scan")
		b.ReportMetric(float64(s.UsedBytes)/float64(s.Scans), "file-bytes/scan")
	}
	b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N*segments*segmentScans), "µs/scan")
}

// A year by the hour, and a week by the minute.
func BenchmarkTrend(b *testing.B) {
	a := open(b, newFile(b), Options{noSync: true})
	setLayout(b, a, "north", plant)
	var batch Batch
	scans := plantScans(b, 1, t0, 4000)
	for i := range 365 * 24 * 12 { // every five minutes; the number of hours is what counts
		s := scans[i%len(scans)]
		s.At = t0.Add(time.Duration(i) * 5 * time.Minute)
		batch.Scans = append(batch.Scans, Scan{"north", s})
	}
	commit(b, a, batch)
	maintain(b, a)
	b.Run("a year of hours", func(b *testing.B) {
		for b.Loop() {
			hours, err := a.Minutes(b.Context(), "north", time.Time{}, time.Time{}, Hour)
			if err != nil || len(hours) != 365*24 {
				b.Fatal(len(hours), err)
			}
		}
	})
	w := sealedArchive(b, 148) // 4096 s each
	b.Run("a week of minutes", func(b *testing.B) {
		for b.Loop() {
			minutes, err := w.Minutes(b.Context(), "north", time.Time{}, time.Time{}, Minute)
			if err != nil || len(minutes) < 7*24*60 {
				b.Fatal(len(minutes), err)
			}
		}
	})
}

func BenchmarkRecording(b *testing.B) {
	scans := plantScans(b, 1, t0, 4096)
	text := writeRecording(b, plant, scans)
	b.Run("write", func(b *testing.B) {
		for b.Loop() {
			writeRecording(b, plant, scans)
		}
		b.ReportMetric(float64(b.N*len(scans))/b.Elapsed().Seconds(), "scans/s")
	})
	b.Run("read", func(b *testing.B) {
		for b.Loop() {
			if _, _, err := readRecording(b, text); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64(b.N*len(scans))/b.Elapsed().Seconds(), "scans/s")
	})
}
