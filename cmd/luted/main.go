// Command luted watches solvent stills: it reads their instruments over Modbus, says what is going on,
// and calls people before a batch is lost. It only reads; it is no safety system and replaces no
// interlock, gauge or procedure.
package main

import (
	"context"
	"io"
	"os"
	"os/signal"
	"syscall"
	_ "time/tzdata" // the site's time zone, on machines that have no table of them

	"github.com/alecthomas/kong"
)

// commandLine is the whole command line; each command has a file of its own.
type commandLine struct {
	Run        runCommand        `cmd:"" help:"Watch the stills of a configuration."`
	Demo       demoCommand       `cmd:"" help:"Watch simulated stills; needs no equipment and no other program."`
	Check      checkCommand      `cmd:"" help:"Check a configuration and say what will be read."`
	Boil       boilCommand       `cmd:"" help:"Say where a solvent or blend boils under a vacuum, and what the pump can reach over it."`
	Replay     replayCommand     `cmd:"" help:"Analyse a recording as if it were live."`
	Export     exportCommand     `cmd:"" help:"Write scans or events of the archive to a file."`
	Import     importCommand     `cmd:"" help:"Read a recording into the archive."`
	Report     reportCommand     `cmd:"" help:"Write a batch record or the sums of a month, to print or to reckon with."`
	Learned    learnedCommand    `cmd:"" help:"Show what was learned of a still, forget it, or say that an upkeep was done."`
	Verify     verifyCommand     `cmd:"" help:"Prove that nothing in the archive was changed since it was written."`
	NotifyTest notifyTestCommand `cmd:"" help:"Send a sample alarm through every configured channel."`
	Version    versionCommand    `cmd:"" help:"Print the version."`
}

const description = `luted watches batch solvent stills: it reads their instruments over Modbus, tells the phase of every
run, finds failed vacuum and heating early, and calls people before the batch is lost.

It only reads. It is no safety system and replaces no interlock, gauge or procedure: the safety data
sheet, the maker's manual, local code and licensed practice govern.`

// streams is where a command reads and writes, so that a test can be its terminal.
type streams struct {
	in       io.Reader
	out, err io.Writer
	terminal bool // err is read by a person
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	// After the first signal the second one finds the default again, and ends the program at once.
	context.AfterFunc(ctx, stop)
	s := streams{in: os.Stdin, out: os.Stdout, err: os.Stderr, terminal: isTerminal(os.Stderr)}
	os.Exit(execute(ctx, os.Args[1:], s))
}

// execute runs one command line and returns the exit code.
func execute(ctx context.Context, args []string, s streams) (code int) {
	var cli commandLine
	type exit int
	defer func() {
		if r := recover(); r != nil {
			e, ok := r.(exit)
			if !ok {
				panic(r)
			}
			code = int(e)
		}
	}()
	parser, err := kong.New(&cli,
		kong.Name("luted"), kong.Description(description),
		kong.Writers(s.out, s.err), kong.Exit(func(c int) { panic(exit(c)) }),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true, WrapUpperBound: 100, NoExpandSubcommands: true}),
		kong.Help(help), kong.BindTo(ctx, (*context.Context)(nil)), kong.Bind(s),
	)
	if err != nil {
		return report(s.err, err)
	}
	if len(args) == 0 {
		args = []string{"--help"}
	}
	switch args[0] {
	case "boil":
		args = joinUnits(args)
	case "help": // what people type first, besides -h
		args = append(args[1:], "--help")
	case "--version", "-v":
		args = []string{"version"}
	}
	command, err := parser.Parse(args)
	if err != nil {
		return report(s.err, usageError{err})
	}
	return report(s.err, command.Run())
}
