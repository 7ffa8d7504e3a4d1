package dataset_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"io"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/parquet-go/parquet-go"

	"example.org/windrow/normalize/dataset"
)

// Every Parquet file has the columns, the rows and the values of its table, in
// the same order; numbers are numbers, empty cells nulls, and the units of the
// columns stand in the metadata.
func TestParquetSaysWhatTheTablesSay(t *testing.T) {
	reports, _ := inventedArchive(60)
	for _, opt := range []dataset.Options{{Version: "1.0"}, {Version: "1.0", MinGroup: 5}, {Version: "1.0", Memory: 1}} {
		got, _ := write(t, opt, append(reports, inEachTable(900), inEachTable(901))...)
		var d struct {
			Resources []struct {
				Path   string
				Schema struct{ Fields []map[string]any }
			}
		}
		if err := json.Unmarshal([]byte(got["datapackage.json"]), &d); err != nil || len(d.Resources) != 4 {
			t.Fatal(len(d.Resources), err)
		}
		for _, r := range d.Resources {
			name := strings.TrimSuffix(r.Path, ".csv") + ".parquet"
			f, err := parquet.OpenFile(strings.NewReader(got[name]), int64(len(got[name])))
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			var fields []map[string]any
			text, _ := f.Lookup("columns")
			if err := json.Unmarshal([]byte(text), &fields); err != nil || len(fields) != len(r.Schema.Fields) {
				t.Fatalf("%s: %d columns in the metadata, %v", name, len(fields), err)
			}
			for _, c := range r.Schema.Fields {
				for _, key := range []string{"unit", "unit_field"} {
					if v, there := f.Lookup(key + ":" + c["name"].(string)); there != (c[key] != nil) || there && v != c[key] {
						t.Errorf("%s: %s of %v is %q, want %v", name, key, c["name"], v, c[key])
					}
				}
			}
			for _, g := range f.Metadata().RowGroups {
				for _, c := range g.Columns {
					if c.MetaData.Codec.String() != "ZSTD" {
						t.Errorf("%s: compressed by %v", name, c.MetaData.Codec)
					}
				}
			}
			sameRows(t, name, f, r.Schema.Fields, got[r.Path])
		}
	}
}

func sameRows(t *testing.T, name string, f *parquet.File, fields []map[string]any, table string) {
	t.Helper()
	want, err := csv.NewReader(strings.NewReader(table)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var heads []string
	for _, c := range f.Schema().Fields() {
		heads = append(heads, c.Name())
	}
	if !slices.Equal(heads, want[0]) || f.NumRows() != int64(len(want)-1) {
		t.Fatalf("%s: %d rows of %v, want %d of %v", name, f.NumRows(), heads, len(want)-1, want[0])
	}
	n := 0
	rows := make([]parquet.Row, 64)
	for _, g := range f.RowGroups() {
		r := g.Rows()
		for {
			k, err := r.ReadRows(rows)
			for _, row := range rows[:k] {
				n++
				for i, v := range row {
					switch cell := want[n][i]; fields[i]["type"] {
					case "number":
						x, bad := strconv.ParseFloat(cell, 64)
						if (bad != nil) != v.IsNull() || bad == nil && v.Double() != x {
							t.Fatalf("%s, row %d: %s is %v, want %q", name, n, heads[i], v, cell)
						}
					case "integer":
						if strconv.FormatInt(v.Int64(), 10) != cell {
							t.Fatalf("%s, row %d: %s is %v, want %q", name, n, heads[i], v, cell)
						}
					default:
						if v.IsNull() != (cell == "") || !bytes.Equal(v.ByteArray(), []byte(cell)) {
							t.Fatalf("%s, row %d: %s is %v, want %q", name, n, heads[i], v, cell)
						}
					}
				}
			}
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		if err := r.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if n != len(want)-1 {
		t.Errorf("%s: read %d rows, want %d", name, n, len(want)-1)
	}
}
