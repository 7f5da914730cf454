package collector

import "luted/analysis"

// tell logs what the analysis says of a live still: a line for each event.
func (c *Collector) tell(e analysis.Event) {
	switch e.Kind {
	case analysis.PhaseEvent:
		c.log.Info("phase", KeyStill, e.Still, KeyRun, e.Run, KeyPhase, e.Phase)
	case analysis.FaultEvent:
		args := []any{KeyStill, e.Still, KeyRun, e.Run, KeyFault, e.Fault, "text", e.Text}
		if e.Channel != "" {
			args = append(args, KeyChannel, e.Channel)
		}
		if e.State == analysis.Raised {
			c.log.Warn("fault", args...)
			return
		}
		c.log.Info("fault cleared", args...)
	case analysis.RunEvent:
		if e.Summary != nil {
			c.log.Info("run ended", KeyStill, e.Still, KeyRun, e.Run, "verdict", e.Verdict, "why", e.Why)
		}
	}
}
