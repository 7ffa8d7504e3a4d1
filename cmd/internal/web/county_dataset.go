package web

import (
	"archive/zip"
	"context"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"time"

	"example.org/windrow/cmd/internal/pipeline"
	"example.org/windrow/ingest"
	"example.org/windrow/normalize/dataset"
)

// A datasetView is how far a dataset is.
type datasetView struct {
	Busy, Ended bool
	Empty       bool   // nothing of it may be given out
	County      string // "" for all
	Name        string // of its folder, once it is there
	Lines       []string
	Failed      *ingest.Reason
}

// made keeps the dataset that was made last, or is being made.
type made struct {
	mu  sync.Mutex
	now datasetView
}

func (m *made) view() datasetView {
	m.mu.Lock()
	defer m.mu.Unlock()
	v := m.now
	v.Lines = slices.Clone(v.Lines)
	return v
}

// countyDataset begins to make a dataset, as windrow dataset does: of all
// counties or of one. One is made at a time, since it reads every report.
func (d *Desk) countyDataset(r *http.Request) (*answer, error) {
	county := strings.TrimSpace(r.PostForm.Get("county"))
	if county != "" {
		known, err := d.countiesNow(r.Context())
		if err != nil {
			return nil, err
		}
		if !slices.Contains(known, county) {
			return nil, badInput("no sample is of that county", "choose one of the list")
		}
	}
	d.made.mu.Lock()
	busy := d.made.now.Busy
	if !busy {
		d.made.now = datasetView{Busy: true, County: county}
	}
	d.made.mu.Unlock()
	if !busy {
		d.trials.works.Add(1)
		ctx, cancel := context.WithTimeout(context.WithoutCancel(r.Context()), time.Hour)
		go func() {
			defer d.trials.works.Done()
			defer cancel()
			v := d.makeDataset(ctx, county)
			d.made.mu.Lock()
			defer d.made.mu.Unlock()
			d.made.now = v
		}()
	}
	return &answer{to: "/county/dataset"}, nil
}

// makeDataset writes a dataset into a new folder among the office's.
func (d *Desk) makeDataset(ctx context.Context, county string) datasetView {
	v := datasetView{Ended: true, County: county}
	fail := func(err error) datasetView {
		v.Failed = ingest.AsReason(err)
		return v
	}
	cfg := d.off.Config
	key, fresh, err := pipeline.DatasetKey(cfg)
	if err != nil {
		return fail(err)
	}
	opt := dataset.Options{Key: key, Title: "Soil test results", Office: cfg.Office.Name, Version: d.opt.Version}
	if opt.Outlines, err = pipeline.CountyOutlines(cfg); err != nil {
		return fail(err)
	}
	if cfg.Office.Name != "" {
		opt.Title += " of " + cfg.Office.Name
	}
	name := d.today().Format(time.DateOnly)
	if county != "" {
		opt.Title += ", " + county
		opt.Keep = dataset.OfCounty(county)
		name += "-" + slug(county)
	}
	at := ""
	for i := 1; i < 1000 && at == ""; i++ {
		try := name
		if i > 1 {
			try = fmt.Sprintf("%s-%d", name, i)
		}
		if err := os.MkdirAll(cfg.Datasets, 0o750); err != nil {
			return fail(err)
		}
		switch err := os.Mkdir(filepath.Join(cfg.Datasets, try), 0o755); {
		case err == nil:
			at, v.Name = filepath.Join(cfg.Datasets, try), try
		case !os.IsExist(err):
			return fail(err)
		}
	}
	if at == "" {
		return fail(&ingest.Reason{Code: "dataset-failed", Severity: ingest.Fail, What: "there are too many datasets of today", Next: "move some of them away"})
	}
	sum, err := pipeline.MakeDataset(ctx, d.off.Archive, at, opt)
	if err != nil {
		v.Name = ""
		_ = os.Remove(at) // only while it is empty
		return fail(err)
	}
	v.Lines = append(v.Lines, fmt.Sprintf("%s of %s from %s.", count(sum.Rows, "result"), count(sum.Samples, "sample"), count(sum.Reports, "report")))
	if n := sum.Copies; n > 0 {
		v.Lines = append(v.Lines, "Counted once: "+count(n, "sample")+" reported again in the same words.")
	}
	v.Empty = sum.Samples == 0
	for _, l := range sum.Disclosure.Lines() {
		v.Lines = append(v.Lines, sentence(l))
	}
	if fresh != "" {
		v.Lines = append(v.Lines, "The office’s key of datasets was made, "+filepath.Base(fresh)+": keep it and keep it secret, since the codes of samples come from it.")
	}
	return v
}

var notSlug = regexp.MustCompile(`[^a-z0-9]+`)

// slug is a county's name as part of a folder's.
func slug(s string) string {
	s = strings.Trim(notSlug.ReplaceAllString(strings.ToLower(s), "-"), "-")
	if len(s) > 40 {
		s = strings.Trim(s[:40], "-")
	}
	if s == "" {
		s = "county"
	}
	return s
}

// countyDatasetState tells how far the dataset is.
func (d *Desk) countyDatasetState(r *http.Request) (*answer, error) {
	return &answer{page: "dataset", title: "Dataset", nav: "/county", body: d.made.view()}, nil
}

// datasetName is the name of a folder of a dataset.
var datasetName = regexp.MustCompile(`^[0-9]{4}-[0-9]{2}-[0-9]{2}[a-z0-9-]*$`)

// datasetFiles gives a dataset that is whole as one file.
func (d *Desk) datasetFiles(r *http.Request) (*answer, error) {
	name := strings.TrimSuffix(r.PathValue("name"), ".zip")
	if !datasetName.MatchString(name) {
		return nil, notHere("there is no such dataset")
	}
	root, err := os.OpenRoot(filepath.Join(d.off.Config.Datasets, name))
	if err != nil {
		return nil, notHere("there is no such dataset")
	}
	// The tables come last when one is written: where they are, all is.
	if _, err := root.Stat(dataset.Files[len(dataset.Files)-1]); err != nil {
		return nil, notHere("that dataset is not whole")
	}
	return &answer{raw: func(w http.ResponseWriter) {
		defer func() { _ = root.Close() }() // it was read only
		w.Header().Set("Content-Type", "application/zip")
		w.Header().Set("Content-Disposition", `attachment; filename="soil-`+name+`.zip"`)
		z := zip.NewWriter(w)
		files := slices.DeleteFunc(slices.Clone(dataset.Extras), func(name string) bool {
			_, err := root.Stat(name)
			return os.IsNotExist(err)
		})
		for _, f := range append(files, dataset.Files...) {
			if err := zipped(z, root, f); err != nil {
				// The answer has begun: without its end nobody takes it for whole.
				d.opt.Log(r.Method, r.Pattern, http.StatusInternalServerError, err)
				panic(http.ErrAbortHandler)
			}
		}
		_ = z.Close() // the one who asked has gone: there is nobody to tell
	}}, nil
}

func zipped(z *zip.Writer, root *os.Root, name string) error {
	f, err := root.Open(name)
	if err != nil {
		return err
	}
	defer func() { _ = f.Close() }() // it was read only
	fi, err := f.Stat()
	if err != nil {
		return err
	}
	w, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: fi.ModTime()})
	if err != nil {
		return err
	}
	_, err = io.Copy(w, f)
	return err
}
