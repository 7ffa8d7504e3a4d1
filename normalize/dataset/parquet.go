package dataset

import (
	"encoding/json"
	"io"
	"strconv"
	"strings"

	"github.com/parquet-go/parquet-go"
)

// parquetRows is how many rows a row group holds, which is what the writer
// keeps in memory.
const parquetRows = 50_000

// An orderedGroup is the columns of a table in their own order, and not in
// that of their names.
type orderedGroup struct {
	parquet.Group
	names []string
}

// Fields are the columns in order.
func (g orderedGroup) Fields() []parquet.Field {
	by := map[string]parquet.Field{}
	for _, f := range g.Group.Fields() {
		by[f.Name()] = f
	}
	var out []parquet.Field
	for _, n := range g.names {
		out = append(out, by[n])
	}
	return out
}

// A parquetWriter writes a table as Parquet: numbers as doubles, all else as
// UTF-8 strings with a dictionary, every column nullable, compressed with
// Zstandard. An empty cell is null; so is a cell of a column of numbers that
// holds none, such as a depth that is withheld.
type parquetWriter struct {
	w       *parquet.GenericWriter[any]
	columns []Column
	batch   []parquet.Row
}

// newParquetWriter begins a file. What the columns are, with their units and
// meaning, is in its metadata under the key columns, as fields of the Table
// Schema standard, and the unit of each under unit:NAME, or unit_field:NAME
// where another column tells it: the writer has no metadata of single columns.
func newParquetWriter(w io.Writer, columns []Column, units map[string]string, opt Options) (*parquetWriter, error) {
	g := orderedGroup{Group: parquet.Group{}}
	for _, c := range columns {
		n := parquet.Encoded(parquet.String(), &parquet.RLEDictionary)
		switch c.Type {
		case "number":
			n = parquet.Leaf(parquet.DoubleType)
		case "integer":
			n = parquet.Leaf(parquet.Int64Type)
		}
		g.names, g.Group[c.Name] = append(g.names, c.Name), parquet.Optional(n)
	}
	schema := schemaOf(columns, units)
	about, err := json.Marshal(schema.Fields)
	if err != nil {
		return nil, err
	}
	options := []parquet.WriterOption{parquet.NewSchema("table", g), parquet.Compression(&parquet.Zstd), parquet.MaxRowsPerRowGroup(parquetRows), parquet.CreatedBy("Windrow", opt.Version, ""),
		parquet.KeyValueMetadata("columns", string(about))}
	for _, f := range schema.Fields {
		if f.Unit != "" {
			options = append(options, parquet.KeyValueMetadata("unit:"+f.Name, f.Unit))
		}
		if f.UnitField != "" {
			options = append(options, parquet.KeyValueMetadata("unit_field:"+f.Name, f.UnitField))
		}
	}
	return &parquetWriter{w: parquet.NewGenericWriter[any](w, options...), columns: columns}, nil
}

// write writes a row.
func (p *parquetWriter) write(fields []string) error {
	row := make(parquet.Row, len(fields))
	for i, f := range fields {
		v := parquet.NullValue()
		switch p.columns[i].Type {
		case "number":
			if x, err := strconv.ParseFloat(f, 64); err == nil && plainNumber(f) {
				v = parquet.DoubleValue(x)
			}
		case "integer":
			if x, err := strconv.ParseInt(f, 10, 64); err == nil {
				v = parquet.Int64Value(x)
			}
		default:
			if f != "" {
				v = parquet.ByteArrayValue([]byte(f))
			}
		}
		defined := 1
		if v.IsNull() {
			defined = 0
		}
		row[i] = v.Level(0, defined, i)
	}
	if p.batch = append(p.batch, row); len(p.batch) < 256 {
		return nil
	}
	return p.flush()
}

func (p *parquetWriter) flush() error {
	_, err := p.w.WriteRows(p.batch)
	p.batch = p.batch[:0]
	return err
}

func (p *parquetWriter) end() error {
	if err := p.flush(); err != nil {
		return err
	}
	return p.w.Close()
}

// parquetName is the name of the Parquet file of a table.
func parquetName(csvName string) string { return strings.TrimSuffix(csvName, ".csv") + ".parquet" }
