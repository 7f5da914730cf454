package main

import (
	"luted/collector"
	"luted/collector/export"
	"luted/collector/notify"
)

// outlets are those that the configuration asks for.
func (d daemon) outlets(m *export.Metrics) ([]collector.Outlet, error) {
	var out []collector.Outlet
	if cfg := d.cfg.Export.Influx; cfg != nil {
		x, err := export.NewInflux(*cfg, d.archive, export.Options{Site: d.cfg.Site.Name, Simulated: d.simulated, Log: d.log, Health: m.Outlet})
		if err != nil {
			return nil, err
		}
		out = append(out, x)
	}
	channels, err := notify.New(d.cfg.Notify, d.archive, d.notifyOptions(m))
	if err != nil {
		return nil, err
	}
	for _, c := range channels {
		out = append(out, c)
	}
	return out, nil
}

// notifyOptions are what messages say beyond the alarm.
func (d daemon) notifyOptions(m *export.Metrics) notify.Options {
	return notify.Options{Site: d.cfg.Site.Name, Zone: d.cfg.Site.TimeZone, Simulated: d.simulated, Page: d.cfg.Web.Page, Log: d.log, Health: m.Outlet}
}
