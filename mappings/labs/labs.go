// Package labs holds the mappings that come with Windrow: the invented
// laboratories of Calder, which the demo and the tests read. An office adds
// its own mappings in its own folder.
//
// It holds files and no code; it is a leaf.
package labs

import "embed"

// FS is the mapping files, at the top of the file system.
//
//go:embed *.yaml
var FS embed.FS
