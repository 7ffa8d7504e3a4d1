// Package config holds what the operator of an office may set, and nothing
// else: it is a leaf of cmd that the commands and the conductor read.
//
// Enters: the file windrow.yaml in the office folder, environment variables
// that begin with WINDROW_, and the flags of one command.
// Leaves: one typed, checked [Config], which knows where each value came
// from; or every [ingest.Reason] why there is none, each with its place.
//
// Never: it reads no mapping file and no rule set (viper lower-cases keys, so
// pH would become ph), guesses no value, takes no unknown setting, converts no
// value of the wrong type, and prints no secret.
//
// A flag outranks the environment, the environment outranks the file, and the
// file outranks the default. An environment variable that is set to nothing
// counts as not set.
package config
