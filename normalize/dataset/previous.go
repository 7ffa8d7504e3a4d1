package dataset

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"

	"example.org/windrow/ingest"
)

// Comparison tells what two datasets tell together. Who has both can take one
// from the other: the samples that came, or went, stand alone then, and a sample
// that is in both is known by what either tells of it.
type Comparison struct {
	SameKey bool `json:"same_key"` // else codes don't agree, and nothing more is counted
	Both    int  `json:"both"`     // samples in both
	New     int  `json:"new"`
	Gone    int  `json:"gone"`
	// NewAlone are new samples that stand with fewer than k new clients in their
	// group, GoneAlone such that went with fewer than k samples, and Narrowed
	// samples in both of which the two together leave fewer than k clients.
	NewAlone  int `json:"new_alone"`
	GoneAlone int `json:"gone_alone"`
	Narrowed  int `json:"narrowed"`
}

// Alone are the samples that the two single out.
func (c *Comparison) Alone() int { return c.NewAlone + c.GoneAlone + c.Narrowed }

func noPrevious(dir, found string) error {
	return &ingest.Reason{Code: "dataset-previous", Severity: ingest.Fail, Where: ingest.Place{File: filepath.Base(dir)}, What: "the dataset given out before can't be compared with this one",
		Expected: "a folder with the results.csv and datapackage.json that this version of Windrow writes", Found: found,
		Next: "name the folder of the last dataset that was given out; one of an older version can't be compared: treat what it told as known, and don't give out both"}
}

// compare holds the finished rows against a dataset given out before.
func compare(opt Options, mark string, now *recount) (*Comparison, error) {
	dir := opt.Previous
	before, theirs, err := readPrevious(dir)
	if err != nil {
		return nil, noPrevious(dir, err.Error())
	}
	c := &Comparison{SameKey: theirs == mark}
	if !c.SameKey {
		return c, nil
	}
	type pair struct {
		was quasi
		is  *group
	}
	fresh, both, gone := map[*group][]standing{}, map[pair][]standing{}, map[quasi]int{}
	for sample, s := range now.samples {
		was, ok := before[sample]
		if !ok {
			c.New++
			fresh[s.group] = append(fresh[s.group], s)
			continue
		}
		c.Both++
		both[pair{was, s.group}] = append(both[pair{was, s.group}], s)
	}
	for sample, was := range before {
		if _, ok := now.samples[sample]; !ok {
			c.Gone++
			gone[was]++
		}
	}
	for _, s := range fresh {
		if clientsOf(s) < opt.MinGroup {
			c.NewAlone += len(s)
		}
	}
	for _, s := range both {
		if clientsOf(s) < opt.MinGroup {
			c.Narrowed += len(s)
		}
	}
	for _, n := range gone {
		if n < opt.MinGroup {
			c.GoneAlone += n
		}
	}
	return c, nil
}

func clientsOf(list []standing) int {
	var people crowd
	for _, s := range list {
		people.add(s.person)
	}
	return people.size()
}

// readPrevious are the quasi-identifiers of each sample of a dataset, and the
// mark of its key.
func readPrevious(dir string) (samples map[string]quasi, mark string, err error) {
	b, err := os.ReadFile(filepath.Join(dir, PackageFile))
	if err != nil {
		return nil, "", errors.New(ingest.Cause(err))
	}
	var d struct {
		Mark string `json:"key_mark"`
	}
	if err := json.Unmarshal(b, &d); err != nil {
		return nil, "", err
	}
	f, err := os.Open(filepath.Join(dir, "results.csv"))
	if err != nil {
		return nil, "", errors.New(ingest.Cause(err))
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.ReuseRecord = true
	head, err := r.Read()
	if err != nil {
		return nil, "", err
	}
	want := []int{colSample, colCounty, colLandUse, colPeriod, colDepth, colLab}
	at := make([]int, len(want))
	for i, c := range want {
		if at[i] = slices.Index(head, columns[c].Name); at[i] < 0 {
			return nil, "", errors.New("results.csv has no column " + columns[c].Name)
		}
	}
	samples = map[string]quasi{}
	for {
		f, err := r.Read()
		if errors.Is(err, io.EOF) {
			return samples, d.Mark, nil
		}
		if err != nil {
			return nil, "", err
		}
		var q quasi
		for i := range q {
			q[i] = f[at[i+1]]
		}
		if _, ok := samples[f[at[0]]]; !ok {
			samples[string([]byte(f[at[0]]))] = q
		}
	}
}
