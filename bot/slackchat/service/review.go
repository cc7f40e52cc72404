package service

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"ferrule/bot"
	"ferrule/knowledge"
	"ferrule/store"
	"ferrule/store/review"
)

// Review says where the review of each week is posted.
type Review struct {
	Channel string // empty: nowhere
	Pack    func() *knowledge.Pack
}

// The review of a week is posted on Monday from this hour on.
const (
	reviewHour  = 7
	reviewEvery = 10 * time.Minute // how often it is looked whether it is time
)

// keep puts the review of the last week into the outbox when it is time. That it
// is put there once is seen to by the key of the delivery.
func (r Review) keep(ctx context.Context, st store.Store, o Options, team string, kick func()) {
	if r.Channel == "" {
		return
	}
	tick := time.NewTicker(reviewEvery)
	defer tick.Stop()
	for {
		now := o.Now()
		if week := review.WeekOf(now).Before(1); now.Weekday() != time.Monday || now.Hour() >= reviewHour {
			switch err := PostReview(ctx, st, r.Pack(), team, r.Channel, week); {
			case err == nil:
				kick()
			case ctx.Err() == nil && !errors.Is(err, ErrPosted) && !errors.Is(err, ErrNothingToSay):
				o.Log.Error("the review of the week could not be posted", "week", week, "error", err)
			}
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// Why the review of a week is not posted.
var (
	ErrPosted       = errors.New("the review of that week was posted in that channel before")
	ErrNothingToSay = errors.New("no case was open or closed in that week")
)

// PostReview puts the review of a week into the outbox, for a channel.
func PostReview(ctx context.Context, st store.Store, pack *knowledge.Pack, team, channel string, week review.Week) error {
	report, err := review.Make(ctx, st, pack, week)
	if err != nil {
		return fmt.Errorf("reviewing %s: %w", week, err)
	}
	if report.Total.Cases == 0 && len(report.Open) == 0 {
		return ErrNothingToSay
	}
	// What is read on a phone; the figures are for the meeting (ferrule review).
	headline, _, _ := strings.Cut(strings.TrimSpace(report.Text()), "\n")
	reply := bot.Reply{Headline: headline}
	for _, list := range []struct {
		title string
		lines []string
	}{{"Worth saying", report.Things}, {"To do", report.ToDo}} {
		if len(list.lines) == 0 {
			continue
		}
		reply.Details = append(reply.Details, list.title+":")
		for _, line := range list.lines {
			reply.Details = append(reply.Details, "- "+line)
		}
	}
	body, err := bot.PostingOf(reply)
	if err != nil {
		return err
	}
	key := fmt.Sprintf("review/%s/%s/%s", team, channel, week)
	receipt, err := st.Apply(ctx, store.Change{Delivery: key, Outbox: []store.Outgoing{{Key: key, Channel: "slack:" + team + ":" + channel + ":", Body: body}}})
	if err != nil {
		return fmt.Errorf("storing the review of %s: %w", week, err)
	}
	if receipt.Repeated {
		return ErrPosted
	}
	return nil
}
