package collector

// Keys of structured log messages, in one place so that one thing has one name in every message.
const (
	KeyStill   = "still"
	KeyLine    = "line"
	KeyChannel = "channel"
	KeyRun     = "run"
	KeyPhase   = "phase"
	KeyFault   = "fault"
	KeyOutlet  = "outlet"
	KeyErr     = "err"
)
