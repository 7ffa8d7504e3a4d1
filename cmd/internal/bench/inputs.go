package main

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"github.com/xuri/excelize/v2"
)

// copies writes n varied copies of files into a folder: each has a comment of
// its own behind its end, so that its bytes are its own and what is on its
// page is not.
func copies(dir, pattern string, n int) ([]string, error) {
	from, err := filepath.Glob(pattern)
	if err != nil {
		return nil, err
	}
	if len(from) == 0 {
		return nil, fmt.Errorf("no file is like %s", pattern)
	}
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return nil, err
	}
	var out []string
	for i := range n {
		b, err := os.ReadFile(from[i%len(from)])
		if err != nil {
			return nil, err
		}
		at := filepath.Join(dir, fmt.Sprintf("copy-%04d.pdf", i))
		if err := os.WriteFile(at, fmt.Appendf(b, "%% copy %d\n", i), 0o640); err != nil {
			return nil, err
		}
		out = append(out, at)
	}
	return out, nil
}

// counties of the invented state of Calder.
var counties = [...]string{"Alderbrook", "Finch", "Quarry", "Tamarack", "Vesper", "Wren"}

var uses = [...]string{"hay", "pasture", "vegetable garden", "lawn"}

// determinands are the rows of a sample in the long list: test, extract and
// unit, the least and the greatest number, and its decimals.
var determinands = [...]struct {
	test, extract, unit   string
	least, most, decimals int
}{
	{"pH (water 1:1)", "water 1:1", "pH", 52, 76, 1},
	{"Organic matter (LOI)", "Loss on ignition", "%", 18, 78, 1},
	{"Density, estimated", "scooped volume weight", "g/cm3", 102, 138, 2},
	{"Phosphorus", volume, "mg/dm3", 95, 1400, 1},
	{"Potassium", volume, "mg/dm3", 40, 320, 0},
	{"Calcium", volume, "mg/dm3", 700, 2600, 0},
	{"Magnesium", volume, "mg/dm3", 80, 320, 0},
	{"Sulphur", volume, "mg/dm3", 80, 300, 1},
	{"Boron", volume, "ppb", 200, 900, 0},
	{"Zinc", volume, "mg/dm3", 110, 990, 2},
	{"Manganese", volume, "mg/dm3", 60, 760, 1},
	{"Copper", volume, "mg/dm3", 60, 400, 2},
	{"Aluminium", volume, "mg/dm3", 300, 900, 0},
	{"Nitrate-N", "2 M KCl, mass basis", "mg/kg", 20, 400, 1},
	{"Salts", "1:2 v/v water", "dS/m", 8, 68, 2},
}

const volume = "Mehlich-3 (ICP), volume basis"

// dec is n with places decimals.
func dec(n, places int) string {
	return strconv.FormatFloat(float64(n)/pow10[places], 'f', places, 64)
}

var pow10 = [...]float64{1, 10, 100}

// longList writes a long list in the shape of the Marrow Brook comma file:
// fifteen rows for each sample.
func longList(at string, samples int) error {
	var b bytes.Buffer
	b.WriteString("\ufeff")
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	write := func(f ...string) {
		_ = w.Write(f) // a buffer takes everything; Flush below tells
	}
	write("ReportNo", "LabNo", "Client", "ClientRef", "County", "Sampled", "Received", "Reported", "LandUse", "Depth_cm", "Determinand", "Extract", "Result", "Qualifier", "Units", "Rating")
	for i := range samples {
		for k, d := range determinands {
			write("MB26-LOAD", fmt.Sprintf("MB%06d", 300000+i), "Ottoline Grebe", fmt.Sprintf("R%d", i+1), counties[i%len(counties)], fmt.Sprintf("%02d/03/2026", 1+i%28), "02/04/2026", "11/05/2026",
				uses[i%len(uses)], "15", d.test, d.extract, dec(d.least+(i*7+k*3)%(d.most-d.least+1), d.decimals), "", d.unit, "")
		}
	}
	w.Flush()
	if err := w.Error(); err != nil {
		return err
	}
	return os.WriteFile(at, b.Bytes(), 0o640)
}

// survey writes a workbook in the shape of the Verrin county survey: a sheet
// for each county, eleven tests a sample.
func survey(at string, rows int) error {
	f := excelize.NewFile()
	defer func() { _ = f.Close() }() // nothing is left of it but what was written
	style := func(code string) int {
		id, err := f.NewStyle(&excelize.Style{CustomNumFmt: &code})
		if err != nil {
			panic(err) // a number format that this file spells out
		}
		return id
	}
	day, one, none, two := style("yyyy-mm-dd"), style("0.0"), style("0"), style("0.00")
	date := func(m time.Month, d int) excelize.Cell {
		return excelize.Cell{StyleID: day, Value: time.Date(2026, m, d, 0, 0, 0, 0, time.UTC)}
	}
	num := func(st int, n int, places int) excelize.Cell {
		return excelize.Cell{StyleID: st, Value: float64(n) / pow10[places]}
	}
	for k, county := range counties {
		if _, err := f.NewSheet(county); err != nil {
			return err
		}
		w, err := f.NewStreamWriter(county)
		if err != nil {
			return err
		}
		at := 0
		put := func(v ...any) {
			at++
			if err == nil && len(v) > 0 {
				err = w.SetRow("A"+strconv.Itoa(at), v)
			}
		}
		put("VERRIN ANALYTICAL")
		put()
		put("Soil analysis workbook  |  county survey  |  sheet: " + county)
		put("County", county)
		put("Received", date(4, 6), nil, "Reported", date(5, 15))
		put()
		put()
		put("Lab ID", "Sample", "Client", "Land use", "Sampled", "Depth (in)", "pH", "Organic matter", "P", "K", "Ca", "Mg", "Zn", "Mn", "Soluble salts", "Acidity", "CEC")
		put(nil, nil, nil, nil, nil, nil, "1:1 water", "g/kg", "mg/kg", "mg/kg", "mg/kg", "mg/kg", "mg/kg", "mg/kg", "mmho/cm", "cmol(+)/kg", "cmol(+)/kg")
		count := rows / len(counties)
		if k < rows%len(counties) {
			count++
		}
		for j := range count {
			i := j*len(counties) + k
			use, depth := uses[i%len(uses)], 6
			if use == "lawn" {
				depth = 4
			}
			kk, ca, mg, ac := 60+i*11%320, 700+i*13%1900, 80+i*5%240, 5+i%40
			cec := float64(kk)/390.983 + float64(ca)/200.39 + float64(mg)/121.525 + float64(ac)/10
			var zn any = num(two, 110+i*3%900, 2)
			if i%17 == 0 {
				zn = "<1.0"
			}
			put(fmt.Sprintf("V%06d", 400000+i), fmt.Sprintf("S%04d", j+1), "Jasper Threnody", use, date(3, 1+i%28), num(one, depth, 0),
				num(one, 52+i%25, 1), num(none, 18+i%60, 0), num(one, 95+i*7%1400, 1), num(none, kk, 0), num(none, ca, 0), num(none, mg, 0), zn, num(one, 60+i*3%700, 1),
				num(two, 8+i%60, 2), num(one, ac, 1), excelize.Cell{StyleID: one, Value: float64(int(cec*10+0.5)) / 10})
		}
		if err != nil {
			return err
		}
		if err := w.Flush(); err != nil {
			return err
		}
	}
	if err := f.DeleteSheet("Sheet1"); err != nil {
		return err
	}
	return f.SaveAs(at)
}
