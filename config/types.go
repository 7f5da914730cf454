package config

import (
	"fmt"
	"slices"
	"time"

	"luted/analysis"
	"luted/analysis/solvent"
)

// Config is the whole configuration, checked and in inside units (°C, kPa, kW, kWh, L, kg). Lists that
// are mappings in the file keep the order of the file.
type Config struct {
	File     string // the file it came from, for messages
	Site     Site
	Lines    []*Line
	Stills   []*Still
	Solvents []solvent.Solvent // that the file describes itself
	Archive  Archive
	Web      Web
	Export   Export
	Notify   Notify
	Prices   Prices
}

// Site is the place: it decides the atmosphere and the words.
type Site struct {
	Name      string
	AltitudeM float64
	Display   analysis.Display
	TimeZone  *time.Location // never nil; the machine's own if not stated
}

// Line is one connection: devices on it are polled in turn, never at once. Exactly one of TCP and
// Serial is set.
type Line struct {
	Name    string
	TCP     string // host:port
	Serial  string // device file
	Baud    int
	Parity  string // "none", "even", "odd"
	Stop    int    // stop bits, 1 or 2
	Timeout time.Duration
	Pause   time.Duration // silence between requests that slow devices need
	At      Pos
}

// Still is one still: how it is read, and what the analysis is told about it.
type Still struct {
	Name     string
	Line     *Line // nil: nothing to poll, only recordings to replay
	Device   uint8 // Modbus unit identifier
	Every    time.Duration
	Channels []*Channel
	// Equipment is what analysis.New takes. Equipment.Channels runs parallel to Channels.
	Equipment analysis.Still
	// VacuumTarget is the target as written: its Unit.Dimension is Vacuum for a gauge vacuum and
	// AbsolutePressure for an absolute one. Zero: not stated.
	VacuumTarget Quantity
	// Checks is the list of start checks.
	Checks Checks
	At     Pos
}

// CheckRecorded refuses a recording with a channel that would go unused because of a slip in its name, unless the
// configuration says of it that the name is meant.
func (s *Still) CheckRecorded(chs []analysis.Channel) error {
	for _, ch := range chs {
		meant := slices.ContainsFunc(s.Channels, func(c *Channel) bool { return c.Name == ch.Name && c.LogOnly })
		if near := misspelt(ch.Name); near != "" && !meant {
			return fmt.Errorf("no signal is named %s, so that channel would not be analysed; did you mean %s? If not, configure it with log_only: true", ch.Name, near)
		}
	}
	return nil
}

// Recorded is the configured still with the channels of a recording. Limits come from the configured channel of
// the same name and kind.
func (s *Still) Recorded(chs []analysis.Channel) analysis.Still {
	eq := s.Equipment
	eq.Channels = make([]analysis.Channel, len(chs))
	for i, ch := range chs {
		for _, known := range s.Equipment.Channels {
			if known.Name == ch.Name && known.Dimension == ch.Dimension {
				ch.Limits = known.Limits
			}
		}
		eq.Channels[i] = ch
	}
	return eq
}

// Channel is one value and where it is read.
type Channel struct {
	analysis.Channel
	Source Source
	Unit   Unit // of the value as configured: recordings are written in it
	// LogOnly says that its name, so like that of a signal, is meant as it is written.
	LogOnly bool
	At      Pos
}

// Table is a Modbus data table.
type Table uint8

// The tables, with the function codes that read them. luted has no code for any other.
const (
	Coil     Table = 1 // function 1
	Discrete Table = 2 // function 2
	Holding  Table = 3 // function 3
	Input    Table = 4 // function 4
)

// Encoding says how registers hold a value.
type Encoding string

// The encodings. Bool is a bit table's value or one bit of a register.
const (
	Bool    Encoding = "bool"
	Int16   Encoding = "int16"
	Uint16  Encoding = "uint16"
	Int32   Encoding = "int32"
	Uint32  Encoding = "uint32"
	Int64   Encoding = "int64"
	Uint64  Encoding = "uint64"
	Float32 Encoding = "float32"
	Float64 Encoding = "float64"
)

// Registers is the number of 16-bit registers that a value takes; 1 for Bool.
func (e Encoding) Registers() int {
	switch e {
	case Int32, Uint32, Float32:
		return 2
	case Int64, Uint64, Float64:
		return 4
	}
	return 1
}

// Source says where and how a value is read. The value in Channel.Unit is
// (decoded·Scale + Offset), or with Raw set, the linear map of RawLow..RawHigh onto Low..High.
type Source struct {
	Table    Table
	Address  uint16 // the protocol's own, from 0
	As       Encoding
	LowFirst bool // low word first (32- and 64-bit)
	SwapByte bool // bytes of each register swapped
	Bit      int  // bit of a register, 0 the lowest; -1: not a bit
	Invert   bool // switches: 0 means true

	Scale, Offset   float64 // Scale is 1 if not stated
	Raw             bool
	RawLow, RawHigh float64
	Low, High       float64 // in Channel.Unit
	Loop            bool    // current-loop limits of NAMUR NE 43 over RawLow..RawHigh = 4..20 mA
}

// Archive says where the archive is and how much it keeps.
type Archive struct {
	Path    string
	Keep    time.Duration // scans older than this go; zero: for ever. Runs, alarms and notes stay.
	MaxSize int64         // bytes; the oldest scans go when the file would be larger; zero: no limit
}

// Web is the page and the API.
type Web struct {
	Listen string // host:port; only this machine (127.0.0.1) if not stated
	Page   string // URL that people reach the page at, for links in messages; empty: messages have none
	Config string // exporter-toolkit web configuration file: TLS and logins
}

// Export holds the outlets for measurements. Nil: not used.
type Export struct {
	Influx *Influx
}

// Influx is an InfluxDB or any engine that takes its v2 writes.
type Influx struct {
	URL    string
	Org    string
	Bucket string
	Token  Secret
	Batch  int           // points a write; zero means 5000
	Every  time.Duration // longest wait before a write; zero means 1 s
	At     Pos
}

// Notify holds the outlets for alarms. Nil: not used.
type Notify struct {
	Mail         *Mail
	Webhook      *Webhook
	Alertmanager *Alertmanager
	Group        time.Duration // alarms of one still within this time go out as one message; zero means 30 s
}

// Mail is an SMTP server and who is told.
type Mail struct {
	Server   string // host:port
	TLS      string // "starttls" (default), "tls", "none"
	User     string
	Password Secret
	From     string
	To       []string
	At       Pos
}

// Webhook is a URL that takes alarms as JSON, signed with HMAC-SHA256 if there is a secret.
type Webhook struct {
	URL    string
	Secret Secret
	At     Pos
}

// Alertmanager is a Prometheus Alertmanager, v2 API.
type Alertmanager struct {
	URL string
	At  Pos
}

// Prices are what the figures of runs are turned into money with, all in one currency. Zero: not stated.
// Fresh is the price of a solvent that has none of its own; For gives what one still is told.
type Prices struct {
	analysis.Prices
	Solvents []SolventPrice // fresh solvent, one by one
}

// SolventPrice is the price of one fresh solvent.
type SolventPrice struct {
	Name  string // that of the solvent table, or of one of the file's own
	Price analysis.UnitPrice
}

// Pos is a place in a file.
type Pos struct {
	File string
	Line int
	Key  string // dotted path, e.g. stills.north.vacuum.target
}
