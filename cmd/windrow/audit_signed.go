package main

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"path"
	"slices"

	"example.org/windrow/normalize/archive"
	"example.org/windrow/normalize/audit"
)

// hashesOf looks up which bytes a version of a report has in the archive.
// Damaged ones count as they are.
func hashesOf(a *archive.Archive) audit.Hashes {
	return func(report string, version int) (string, error) {
		b, err := a.Version(archive.Reports, report, version)
		switch {
		case errors.Is(err, archive.ErrNotFound):
			return "", nil
		case err != nil && !errors.Is(err, archive.ErrDamaged):
			return "", err
		case len(b) == 0:
			return "", nil // a name without content
		}
		h := sha256.Sum256(b)
		return hex.EncodeToString(h[:]), nil
	}
}

// againstSigned compares the archive with every account that was signed; docs
// are those that have just been read, and are not read again.
func againstSigned(a *archive.Archive, signed []*audit.SignOff, docs []audit.Document) ([]audit.Difference, error) {
	type key struct {
		report  string
		version int
	}
	known := make(map[key]string, len(docs))
	for _, d := range docs {
		known[key{d.Report, d.Version}] = d.SHA256
	}
	look := hashesOf(a)
	graves, err := a.Erasures()
	if err != nil {
		return nil, err
	}
	found, err := audit.AgainstSigned(signed, func(report string, version int) (string, error) {
		if h, ok := known[key{report, version}]; ok {
			return h, nil
		}
		return look(report, version)
	})
	// What was erased at a person's request is gone as it should be.
	return slices.DeleteFunc(found, func(d audit.Difference) bool {
		return d.Code == audit.CodeGone && graves.Version(archive.Reports, d.Report, d.Version)
	}), err
}

// signedProblems are the same differences for a check of the archive. A
// sign-off that is damaged is a problem of its own, and no witness.
func signedProblems(a *archive.Archive) ([]archive.Problem, error) {
	signed, err := soundSignOffs(a, func(string, error) error { return nil })
	if err != nil {
		return nil, err
	}
	found, err := againstSigned(a, signed, nil)
	var out []archive.Problem
	for _, d := range found {
		at := path.Join(archive.Reports, d.Report[1:3], d.Report, fmt.Sprintf("%04d.json", d.Version))
		out = append(out, archive.Problem{Code: d.Code, Path: at, What: d.What, Next: "bring it back from a backup; windrow replay reads the original again and shows what differs"})
	}
	return out, err
}
