package main

import (
	"context"
	"fmt"
	"strings"
	"time"

	"luted/collector/notify"
)

type notifyTestCommand struct {
	Config string `required:"" short:"c" placeholder:"FILE" help:"Configuration."`
	Only   string `placeholder:"CHANNEL" help:"Only this one: mail, webhook or alertmanager."`
}

func (notifyTestCommand) Help() string {
	return `Sends one sample alarm, marked as a sample, through every configured channel, or through one of
them. It tries once and says of each channel that failed why.`
}

// notifyTestTime bounds the test: a server that hangs is an answer too.
const notifyTestTime = time.Minute

// Run sends the sample.
func (c notifyTestCommand) Run(ctx context.Context, s streams) error {
	cfg, _, err := load(c.Config)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, notifyTestTime)
	defer cancel()
	o := notify.Options{Site: cfg.Site.Name, Zone: cfg.Site.TimeZone, Page: cfg.Web.Page}
	if err := notify.Sample(ctx, cfg.Notify, c.Only, o); err != nil {
		return err
	}
	sent := c.Only
	if sent == "" {
		sent = strings.Join(notify.Channels(cfg.Notify), ", ")
	}
	fmt.Fprintf(s.out, "sent through: %s\n", sent)
	return nil
}
