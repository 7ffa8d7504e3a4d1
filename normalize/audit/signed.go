package audit

import (
	"fmt"
	"slices"
	"strings"
)

// A Hashes says which bytes a version of a report has in the archive: the
// SHA-256 in lower-case hexadecimal, "" where there is no such version any
// more.
type Hashes func(report string, version int) (sha256 string, err error)

// AgainstSigned compares the archive with every account that was ever signed,
// whatever its scope: a version of a report that was signed has to be there,
// byte for byte. It gives one difference for each version that is gone or was
// altered in place, with the first sign-off that knew it otherwise. A newer
// version beside a signed one is none: see [SinceSigned]. Errors are those of
// hash.
func AgainstSigned(signed []*SignOff, hash Hashes) ([]Difference, error) {
	type key struct {
		report  string
		version int
	}
	told, have := map[key]bool{}, map[key]string{}
	var out []Difference
	for _, s := range signed {
		for _, d := range s.Documents {
			k := key{d.Report, d.Version}
			is, known := have[k]
			if !known {
				var err error
				if is, err = hash(d.Report, d.Version); err != nil {
					return out, err
				}
				have[k] = is
			}
			if is == d.SHA256 || told[k] {
				continue
			}
			told[k] = true
			by := fmt.Sprintf("signed on %s by %s (%s)", s.Time.UTC().Format("2006-01-02"), s.Name, s.ID)
			x := Difference{Code: CodeAltered, Report: d.Report, Version: d.Version, Lab: d.Lab, What: fmt.Sprintf("version %d of the report was altered in place since it was %s", d.Version, by),
				Expected: "the document with the SHA-256 " + d.SHA256 + ", as signed", Found: "SHA-256 " + is}
			if is == "" {
				x.Code, x.What, x.Found = CodeGone, fmt.Sprintf("version %d of the report, of the file %s, is gone since it was %s", d.Version, d.File, by), "no such document in the archive"
			}
			out = append(out, x)
		}
	}
	slices.SortStableFunc(out, func(x, y Difference) int {
		if c := strings.Compare(x.Report, y.Report); c != 0 {
			return c
		}
		return x.Version - y.Version
	})
	return out, nil
}
