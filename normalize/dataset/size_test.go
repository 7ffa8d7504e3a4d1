package dataset_test

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"example.org/windrow/normalize"
	"example.org/windrow/normalize/dataset"
)

// sizeVar names the environment variable that says of how many records
// TestPartsAtSize makes a dataset: make parts-size sets it to 100,000.
const sizeVar = "PARTS_SIZE"

// soilReport is one of any number of invented reports, of one sample with
// fifteen results.
func soilReport(c int) *normalize.Report {
	x := uint64(c+1) * 0x9e3779b97f4a7c15
	counties := []string{"Alderbrook", "Finch", "Quarry", "Tamarack", "Vesper", "Wren"}
	uses := []string{"lawn", "vegetable garden", "raised bed", "soybean", "hay", "flower bed"}
	lab := inventedLabs[x>>8%3]
	rep := &normalize.Report{Schema: normalize.SchemaVersion, ID: fmt.Sprintf("R%016x", x), Status: normalize.OK, Lab: normalize.Lab{ID: lab.id}, Number: fmt.Sprintf("N-%07d", c),
		Mapping: normalize.MappingRef{ID: lab.id, Layout: "table", SHA256: lab.id}, Version: "1.0", Tables: "t"}
	month := fmt.Sprintf("%d-%02d", 2016+x>>16%10, 1+x>>24%12)
	rec := &normalize.Record{ID: rep.ID + "-1", Status: normalize.OK, Client: &normalize.Client{Name: "Client " + fmt.Sprintf("%c%c%c%c", 'A'+c/3%26, 'a'+c/78%26, 'a'+c/2028%26, 'a'+c/52728%26)},
		Sample: normalize.Sample{LabID: fmt.Sprintf("S-%07d", c), County: counties[x>>32%6], LandUse: uses[x>>40%6], Sampled: month + "-15", Reported: month + "-20", DepthIn: normalize.Decimal(lab.depth)}}
	for j, a := range []string{"pH", "P", "K", "Ca", "Mg", "Zn", "B", "Mn", "Cu", "Fe", "S", "Na", "OM", "CEC", "Pb"} {
		v := fmt.Sprintf("%d.%02d", 5+(x>>j)%300, (x>>(j+7))%100)
		rec.Results = append(rec.Results, &normalize.Result{Analyte: a, Method: lab.extract, MethodName: "an extract", Status: normalize.OK, Value: normalize.Decimal(v), Unit: "mg/kg", UCUM: "mg/kg",
			Printed: normalize.Printed{Text: v, Number: normalize.Decimal(v), Unit: lab.unit}})
	}
	rep.Records = []*normalize.Record{rec}
	return rep
}

// peak is the most memory that this process ever held, as the system counts
// it; "" where it doesn't say.
func peak() string {
	b, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return ""
	}
	_, after, _ := strings.Cut(string(b), "VmHWM:")
	line, _, _ := strings.Cut(after, "\n")
	return strings.TrimSpace(line)
}

// TestPartsAtSize makes a dataset in parts of many records, then adds a
// hundredth, then nothing. It prints what each took, and holds what stays in
// memory of a record against a bound: as much as its code, group and client
// take, and not its results.
func TestPartsAtSize(t *testing.T) {
	n := 2000
	if s := os.Getenv(sizeVar); s != "" {
		var err error
		if n, err = strconv.Atoi(s); err != nil || n < 1000 {
			t.Fatalf("%s is %q, not a number of records of at least 1000", sizeVar, s)
		}
	}
	dir := t.TempDir()
	to := dataset.Folder(filepath.Join(dir, "parts"))
	before := 0
	for _, m := range []int{n, n + n/100, n + n/100} {
		var base, now runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&base)
		start, passes, most := time.Now(), 0, uint64(0)
		told, err := dataset.Append(to, func(yield func(*normalize.Report) error) error {
			passes++
			for c := range m {
				if err := yield(soilReport(c)); err != nil {
					return err
				}
			}
			runtime.GC() // what is left is held until the next reading
			runtime.ReadMemStats(&now)
			most = max(most, now.HeapAlloc-min(base.HeapAlloc, now.HeapAlloc))
			return nil
		}, dataset.PartsOptions{Options: dataset.Options{Key: key, Memory: 1 << 20}, Work: dir})
		if err != nil {
			t.Fatal(err)
		}
		each := most / uint64(m)
		t.Logf("%8d records: %d new, %d readings, %v, held at most %.1f MB, %d bytes a record, peak of the process %s", m, told.Added, passes, time.Since(start).Round(time.Millisecond), float64(most)/1e6, each, peak())
		if told.Added+told.Waiting < m-before || told.Samples+told.Waiting != m || told.Replaced+told.Withdrawn != 0 {
			t.Errorf("%d records: %+v", m, told)
		}
		if most > 8<<20+uint64(m)*400 {
			t.Errorf("%d records: %d bytes were held", m, most)
		}
		before = told.Samples + told.Waiting
	}
}
