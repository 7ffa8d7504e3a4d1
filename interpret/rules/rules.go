// Package rules holds the rule sets that are built into Windrow: YAML files
// with the tables by which results are rated and advice is given, and
// sources.yaml, the bibliography that every row of them points into.
//
// Enters: nothing.
// Leaves: FS, the files as they stand beside this one.
// Never: it reads or checks nothing; package interpret does.
package rules

import "embed"

// FS holds every .yaml file of this folder.
//
//go:embed *.yaml
var FS embed.FS
