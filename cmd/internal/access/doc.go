// Package access decides who may see what of an office, and keeps account of
// who saw or changed it. It is a leaf of cmd: it knows no page and no archive.
//
// Enters: the list of users, what somebody gives to sign in, the word of an
// OpenID provider, and notes of what was asked for. Leaves: a [Person] with a
// [Role], sessions that end, the list of users written whole, and a log of
// which each line is chained to the one before.
//
// Never: a password is kept, logged or taken from a command line; a failure
// tells whether the account exists, by its words or by its time; a name, a
// label or anything else of a client enters the log, which holds ids alone; a
// line of the log is changed or taken out. What can't be decided is refused.
package access
