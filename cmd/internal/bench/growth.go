package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"example.org/windrow/ingest"
	"example.org/windrow/normalize"
	"example.org/windrow/normalize/archive/index"
	"example.org/windrow/normalize/dataset"
)

// least is the smallest number of records in a table of growth.
const least = 1000

// A grown is what one size took.
type grown struct {
	Seconds float64 // of the work itself, without making its reports
	Queries map[string]float64
}

// growth measures how time and memory grow with the number of records, from a
// thousand by tens to most, each size in a process of its own.
func (b *bench) growth(most int) error {
	self, err := os.Executable()
	if err != nil {
		return err
	}
	fmt.Printf("Growth of time and memory, by `make growth`, on %s.\nA record is one sample with %d results; what it takes to invent it is taken off. Growth is the time of a record against that at the size before: 1 is linear.\n\n", processor(), len(determinands))
	fmt.Println("| what | records | seconds | a record | growth | most memory | queries |")
	fmt.Println("| --- | ---: | ---: | ---: | ---: | ---: | --- |")
	for _, kind := range []string{"dataset", "dataset in parts", "index"} {
		before := 0.0
		for n := least; n <= most; n *= 10 {
			dir, err := os.MkdirTemp(b.dir, "growth-")
			if err != nil {
				return err
			}
			mib, _, err := b.peak(self, "-grow", kind, "-size", strconv.Itoa(n), "-at", dir)
			if errors.Is(err, errors.ErrUnsupported) {
				return errors.New("this system has no /proc, so that memory can't be measured")
			}
			if err != nil {
				return err
			}
			var g grown
			told, err := os.ReadFile(filepath.Join(dir, "told.json"))
			if err == nil {
				err = json.Unmarshal(told, &g)
			}
			if err := errors.Join(err, os.RemoveAll(dir)); err != nil {
				return err
			}
			each, curve, queries := g.Seconds/float64(n), "", []string{}
			if before > 0 {
				curve = fmt.Sprintf("%.2f", each/before)
			}
			before = each
			for _, q := range []string{"by sample number", "by report"} {
				if s, ok := g.Queries[q]; ok {
					queries = append(queries, q+" "+span(time.Duration(s*1e9)))
				}
			}
			fmt.Printf("| %s | %d | %.1f | %s | %s | %.0f MiB | %s |\n", kind, n, g.Seconds, span(time.Duration(each*1e9)), curve, mib, strings.Join(queries, ", "))
		}
	}
	return nil
}

// grow does the work of one size, in a process of its own, and leaves what it
// took in a folder.
func grow(ctx context.Context, kind string, n int, dir string) error {
	var g grown
	inventing := time.Duration(0)
	each := func(yield func(*normalize.Report) error) error {
		for i := range n {
			began := time.Now()
			r := inventedReport(i)
			inventing += time.Since(began)
			if err := yield(r); err != nil {
				return err
			}
		}
		return nil
	}
	opt := dataset.Options{Key: []byte("a key for measuring only")}
	start := time.Now()
	var err error
	switch kind {
	case "dataset":
		_, err = dataset.Write(filepath.Join(dir, "dataset"), each, opt)
	case "dataset in parts":
		_, err = dataset.Append(dataset.Folder(filepath.Join(dir, "parts")), each, dataset.PartsOptions{Options: opt, Work: dir})
	case "index":
		g.Queries = map[string]float64{}
		inventing, err = growIndex(ctx, n, dir, g.Queries)
		start = start.Add(time.Duration((g.Queries["by sample number"] + g.Queries["by report"]) * queriesOfEach * 1e9))
	default:
		err = fmt.Errorf("nothing grows that is called %q", kind)
	}
	if err != nil {
		return err
	}
	g.Seconds = (time.Since(start) - inventing).Seconds()
	told, err := json.Marshal(g)
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(dir, "told.json"), told, 0o640)
}

// queriesOfEach is how many queries of each kind are asked; their mean counts.
const queriesOfEach = 200

func growIndex(ctx context.Context, n int, dir string, queries map[string]float64) (inventing time.Duration, err error) {
	ix, err := index.Open(ctx, filepath.Join(dir, "index.sqlite"))
	if err != nil {
		return 0, err
	}
	for i := range n {
		began := time.Now()
		r := inventedReport(i)
		b, err := r.JSON()
		if err != nil {
			return 0, err
		}
		inventing += time.Since(began)
		if err := ix.AddReport(ctx, r.ID, 1, b); err != nil {
			return 0, err
		}
	}
	for name, ask := range map[string]func(*normalize.Report) (bool, error){
		"by sample number": func(r *normalize.Report) (bool, error) {
			found, err := ix.Find(ctx, r.Records[0].Sample.LabID, "")
			return len(found) == 1, err
		},
		"by report": func(r *normalize.Report) (bool, error) {
			_, known, err := ix.OfficeOf(ctx, r.ID)
			return known, err
		},
	} {
		began := time.Now()
		for q := range queriesOfEach {
			i := int(uint64(q+1) * 0x9e3779b97f4a7c15 % uint64(n))
			if found, err := ask(inventedReport(i)); err != nil || !found {
				return 0, fmt.Errorf("record %d is not found %s: %w", i, name, err)
			}
		}
		queries[name] = time.Since(began).Seconds() / queriesOfEach
	}
	return inventing, ix.Close()
}

// inventedReport is one of any number of reports, always the same one for a
// number. Three samples each are of one client.
func inventedReport(i int) *normalize.Report {
	x := uint64(i+1) * 0x9e3779b97f4a7c15
	lab := [...]string{"marrow-brook", "verrin", "oxbow-tansy"}[x>>8%3]
	rep := &normalize.Report{Schema: normalize.SchemaVersion, ID: fmt.Sprintf("R%016x", x), Status: normalize.OK, Lab: normalize.Lab{ID: lab, Name: lab}, Number: fmt.Sprintf("N-%07d", i),
		Mapping: normalize.MappingRef{ID: lab, Layout: "table", SHA256: lab}, Version: "bench", Tables: "t", Source: ingest.SourceRef{Name: fmt.Sprintf("n-%07d.csv", i), SHA256: fmt.Sprintf("%064x", x)}}
	month := fmt.Sprintf("%d-%02d", 2016+x>>16%10, 1+x>>24%12)
	rec := &normalize.Record{ID: rep.ID + "-1", Status: normalize.OK, Client: &normalize.Client{Name: "Client " + letters(i/3)},
		Sample: normalize.Sample{LabID: fmt.Sprintf("S-%07d", i), County: counties[x>>32%uint64(len(counties))], LandUse: uses[x>>40%uint64(len(uses))], Sampled: month + "-15", Reported: month + "-20", DepthIn: "6"}}
	for k, d := range determinands {
		v := normalize.Decimal(dec(d.least+int(x>>k%uint64(d.most-d.least+1)), d.decimals))
		rec.Results = append(rec.Results, &normalize.Result{Analyte: "a" + strconv.Itoa(k), Method: "m-" + lab, MethodName: "an extract", Status: normalize.OK, Value: v, Unit: "mg/kg", UCUM: "mg/kg",
			Printed: normalize.Printed{Text: string(v), Number: v, Unit: "ppm"}})
	}
	rep.Records = []*normalize.Record{rec}
	return rep
}

// letters is a number as a name of letters, so that nobody takes two for one.
func letters(n int) string {
	b := []byte{byte('A' + n%26)}
	for n /= 26; n > 0; n /= 26 {
		b = append(b, byte('a'+n%26))
	}
	return string(b)
}
