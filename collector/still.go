package collector

import (
	"time"

	"luted/analysis"
	"luted/collector/modbus"
	"luted/config"
)

// still is what the pipeline keeps of one still.
type still struct {
	cfg    *config.Still
	fold   fold
	stamp  stamper
	rest   time.Time // rest point already archived, or in the batch
	latest analysis.Scan
	good   []time.Time   // when each channel last had a good value; zero: never
	lead   time.Duration // of the stamps on the clock
	raw    []modbus.Raw  // what the device sent last; replaced, never changed
	device Device
	lost   int // scans, since the start, because the archive could not be written
}

// Device is how the reading of a still goes.
type Device struct {
	At     time.Time      // start of the latest sweep; zero: none yet
	Took   time.Duration  // of the latest sweep
	Missed int            // beats missed since the start
	Errors map[string]int // since the start, by kind; not to be changed
	Bad    int            // values of the latest sweep that are not good
}

func newStill(cfg *config.Still, f fold) *still {
	return &still{cfg: cfg, fold: f, stamp: stamper{every: cfg.Every}, good: make([]time.Time, len(cfg.Channels))}
}

// scanned keeps the latest scan.
func (s *still) scanned(scan analysis.Scan) {
	s.latest = scan
	for i, v := range scan.Values {
		if v.Quality == analysis.Good {
			s.good[i] = scan.At
		}
	}
}

// swept notes how a sweep went. Errors is replaced, never changed, since views hold on to it.
func (s *still) swept(sw modbus.Sweep) {
	d := Device{At: sw.At, Took: sw.Took, Missed: s.device.Missed + sw.Missed, Errors: s.device.Errors}
	for _, v := range sw.Values {
		if v.Quality != analysis.Good {
			d.Bad++
		}
	}
	if len(sw.Result.Errors) > 0 {
		sum := make(map[string]int, len(d.Errors)+1)
		for k, n := range d.Errors {
			sum[k] = n
		}
		for k, n := range sw.Result.Errors {
			sum[k] += n
		}
		d.Errors = sum
	}
	s.device = d
	if sw.Raw != nil {
		s.raw = sw.Raw
	}
}
