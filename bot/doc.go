// Package bot is one conversation: an incoming event in, a reply out. It
// knows no transport; bot/console and others draw its replies.
//
// Handle redacts a message before anything else sees it, reads it, judges the
// case anew, and stores everything of the message in one change. A delivery
// that comes again gets the first reply again and changes nothing.
package bot
