package dataset

import (
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"io"
	"path/filepath"
)

// A table is one of the tables, on its way to its files.
type table struct {
	*sorter
	dir, name string // of the file of comma-separated values
	columns   []Column
	units     map[string]string // UCUM codes of the columns that have one
	opt       Options
	rows      int
	sum       string // SHA-256 of that file
}

func newTable(dir, name string, columns []Column, opt Options) *table {
	return &table{sorter: &sorter{dir: dir, limit: opt.Memory, name: name + "-", width: len(columns)}, dir: dir, name: name, columns: columns, units: unitsOf, opt: opt}
}

// write writes the rows of each as comma-separated values and as Parquet, and
// lets visit see each.
func (t *table) write(each func(func(row) error) error, visit func(row)) error {
	return writeFile(filepath.Join(t.dir, parquetName(t.name)), func(w io.Writer) error {
		pq, err := newParquetWriter(w, t.columns, t.units, t.opt)
		if err != nil {
			return err
		}
		err = t.writeCSV(func(add func(row) error) error {
			return each(func(r row) error {
				t.rows++
				if visit != nil {
					visit(r)
				}
				if err := pq.write(r.fields); err != nil {
					return err
				}
				return add(r)
			})
		})
		if err != nil {
			return err
		}
		return pq.end()
	})
}

func (t *table) writeCSV(each func(func(row) error) error) error {
	hash := sha256.New()
	err := writeFile(filepath.Join(t.dir, t.name), func(w io.Writer) error {
		cw := csv.NewWriter(io.MultiWriter(w, hash))
		head := make([]string, len(t.columns))
		for i, col := range t.columns {
			head[i] = col.Name
		}
		if err := cw.Write(head); err != nil {
			return err
		}
		if err := each(func(r row) error { return cw.Write(r.fields) }); err != nil {
			return err
		}
		cw.Flush()
		return cw.Error()
	})
	t.sum = hex.EncodeToString(hash.Sum(nil))
	return err
}
