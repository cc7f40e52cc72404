// Package slackfake is a strict stand-in for Slack's servers on 127.0.0.1: for
// tests, and to try the bot without a workspace. A bot that passes against it
// should pass against Slack, so it refuses whatever Slack refuses and does what
// Slack does to its clients: it delivers twice, late, out of order and not at
// all, cuts connections, limits rates and loses answers, when it is told to.
//
// A test makes a Server, adds people and channels, lets the bot connect to URL
// and then acts as a person (Say, Press, Submit ...). What the bot did is seen
// by Messages, Views, Deliveries and, above all, Violations: whatever a client
// did that Slack's documents forbid although it need not fail at once.
//
//	fake, err := slackfake.New(slackfake.Options{})
//	defer fake.Close()
//	fake.AddUser("U0ADA", "ada")
//	fake.AddChannel("C0FAULTS", "faults", "U0ADA")
//	api := slack.New(fake.BotToken(), slack.OptionAppLevelToken(fake.AppToken()), slack.OptionAPIURL(fake.URL()))
//	... start the bot with api ...
//	ts, err := fake.Say("C0FAULTS", "U0ADA", fake.Mention()+" keypad is dead", "")
//	err = fake.WaitFor(ctx, func() bool { return len(fake.Messages("C0FAULTS")) == 2 })
//
// # Times
//
// Options.Now is the clock of the workspace: message timestamps, the ages of
// trigger IDs and response URLs, and rates go by it. Deadlines of deliveries and
// what is measured (Delivery, Message.Arrived, Connects) go by the machine's
// clock, since they happen between processes.
//
// # What is not known
//
// Slack does not document everything. Where it does not, the stricter reading
// was taken: a delivery that comes again has a new envelope ID, an
// acknowledgement after the deadline counts for nothing, block_actions accept no
// payload, a reply to a message that there is not is refused. Limits of blocks
// are in limits.json; a block of a type that is not there is refused.
package slackfake
