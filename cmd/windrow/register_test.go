package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"example.org/windrow/interpret"
)

// registerOffice is an office whose watch looks often.
func registerOffice(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	if err := makeOffice(dir); err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(dir, "windrow.yaml"), "office:\n  name: \"Finch County Soil Desk\"\nlisten: 127.0.0.1:0\nwatch:\n  settle: 500ms\n  poll: 100ms\n")
	return dir
}

func write(t *testing.T, at, text string) {
	t.Helper()
	if err := os.WriteFile(at, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

// areasIn are the areas that the advices in the archive of an office are for.
func areasIn(t *testing.T, dir string) (areas []string) {
	t.Helper()
	for p, b := range tree(t, filepath.Join(dir, "archive")) {
		if !strings.HasPrefix(p, "advice/") || !strings.HasSuffix(p, ".json") {
			continue
		}
		var a interpret.Advice
		if err := json.Unmarshal([]byte(b), &a); err != nil {
			t.Fatal(err)
		}
		areas = append(areas, a.AreaSqFt)
	}
	return areas
}

// TestWatchFollowsTheRegister changes the register of an office that is being
// watched: a mistake is told once, at once and by name, holds no report, and
// leaves the last good register in force; a good change is in force for the
// report that comes next. Nobody's name or address is told on the way.
func TestWatchFollowsTheRegister(t *testing.T) {
	dir := registerOffice(t)
	at, labs := filepath.Join(dir, "register.csv"), "../../testdata/labs/thrushgate-garden-soil-desk/"
	const head = "label,client,area,date sent,e-mail\n"
	good := head + "Back veg plot,Winifred Plumtree,900 sq ft,2026-03-23,winifred@plumtree.example\n"
	write(t, at, good)
	w := startWatch(t, dir)
	w.until(t, 10*time.Second, "the register is in force", func() bool { _, err := os.Stat(filepath.Join(dir, ".windrow-register")); return err == nil })

	write(t, at, good+"Plot 17,Jasper Threnody,about 1200,2026-03-16,jasper@threnody.example\n")
	w.until(t, 10*time.Second, "the mistake is told", func() bool { return strings.Contains(w.errs.String(), "register-not-used") })
	if told := w.errs.String(); !strings.Contains(told, "register.csv:3:25: not read [register-area]") || !strings.Contains(told, "the last good one stays in force") {
		t.Errorf("told:\n%s", told)
	}
	copyFile(t, labs+"TG-26-01180.pdf", filepath.Join(dir, "inbox", "TG-26-01180.pdf"))
	w.until(t, 20*time.Second, "the report is advised on", func() bool { return len(areasIn(t, dir)) == 1 })
	if got := areasIn(t, dir)[0]; got != "900" {
		t.Errorf("area %q, want that of the last good register", got)
	}
	if n := strings.Count(w.errs.String(), "register-not-used"); n != 1 {
		t.Errorf("the mistake was told %d times", n)
	}

	write(t, at, good+"Plot 17,Jasper Threnody,30 x 40 ft,2026-03-16,jasper@threnody.example\n")
	copyFile(t, labs+"TG-26-01402.pdf", filepath.Join(dir, "inbox", "TG-26-01402.pdf"))
	w.until(t, 20*time.Second, "the second report is advised on", func() bool { return len(areasIn(t, dir)) == 2 })
	if got := strings.Join(areasIn(t, dir), " "); !strings.Contains(got, "1200") {
		t.Errorf("areas %s, want 1200 as the register has it now", got)
	}
	metrics := get(t, w.url+"/metrics")
	w.stop(t)
	for what, text := range map[string]string{"the log": w.errs.String(), "stdout": w.out.String(), "/metrics": metrics} {
		for _, name := range []string{"Plumtree", "Threnody", "example"} {
			if strings.Contains(text, name) {
				t.Errorf("%s tells %q:\n%s", what, name, text)
			}
		}
	}
	for p, b := range tree(t, filepath.Join(dir, "archive")) {
		if strings.Contains(b, "plumtree.example") {
			t.Errorf("an address of the register is in the archive: %s", p)
		}
	}
	if b, err := os.ReadFile(filepath.Join(dir, ".windrow-register")); err != nil || !strings.Contains(string(b), "30 x 40 ft") {
		t.Errorf("the copy is not of the last good register: %v\n%s", err, b)
	}
}

// TestRegisterWorkbook reads a register as a spreadsheet program saves it:
// dates and areas are cells of their own kinds, and a formula counts by its
// value.
func TestRegisterWorkbook(t *testing.T) {
	dir := registerOffice(t)
	f := excelize.NewFile()
	long := "d mmm yy"
	style, err := f.NewStyle(&excelize.Style{CustomNumFmt: &long})
	if err != nil {
		t.Fatal(err)
	}
	for cell, v := range map[string]any{"A1": "Samples 2026", "A3": "Label", "B3": "Client", "C3": "Area (sq ft)", "D3": "Date sent",
		"A4": 17, "B4": "Ada Quill", "C4": 600.0, "D4": time.Date(2026, 3, 12, 0, 0, 0, 0, time.UTC),
		"A5": "Bed 2", "B5": "Ada Quill", "C5": "0.25 acre", "D5": "March 13, 2026"} {
		if err := f.SetCellValue("Sheet1", cell, v); err != nil {
			t.Fatal(err)
		}
	}
	if err := f.SetCellFormula("Sheet1", "C4", "20*30"); err != nil {
		t.Fatal(err)
	}
	if err := f.SetCellStyle("Sheet1", "D4", "D4", style); err != nil {
		t.Fatal(err)
	}
	if err := f.SaveAs(filepath.Join(dir, "register.xlsx")); err != nil {
		t.Fatal(err)
	}
	out := must(t, exitDone, "register", "check", "--json", "--office", dir)
	var got struct {
		Samples []struct {
			Label string
			Area  string `json:"area_sq_ft"`
			Sent  string `json:"date_sent"`
			Place struct{ Sheet, Cell string }
		}
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if s := got.Samples; len(s) != 2 || s[0].Label != "17" || s[0].Area != "600" || s[0].Sent != "2026-03-12" || s[0].Place.Cell != "A4" || s[1].Area != "10890" || s[1].Sent != "2026-03-13" {
		t.Errorf("%+v", s)
	}
	// A formula that was never computed has no value.
	if err := f.SetCellValue("Sheet1", "C5", nil); err != nil {
		t.Fatal(err)
	}
	if err := f.SetCellFormula("Sheet1", "C5", "C4*2"); err != nil {
		t.Fatal(err)
	}
	if err := f.SaveAs(filepath.Join(dir, "register.xlsx")); err != nil {
		t.Fatal(err)
	}
	if out, err := program(t, "register", "check", "--office", dir).CombinedOutput(); err == nil || !strings.Contains(string(out), "register.xlsx: Sheet1!C5: error [register-cell]") {
		t.Errorf("(%v)\n%s", err, out)
	}
}

// TestRegisterAsProgramsSaveIt reads the same register in the separators and
// encodings that spreadsheet programs save it in.
func TestRegisterAsProgramsSaveIt(t *testing.T) {
	dir := registerOffice(t)
	const text = "etiqueta;cliente;fecha de envío;superficie\r\nHuerto;María Olmedo;2026-05-20;20 x 30 ft\r\n"
	latin, err := charmap.Windows1252.NewEncoder().String(text)
	if err != nil {
		t.Fatal(err)
	}
	wide, err := unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewEncoder().String(strings.ReplaceAll(text, ";", "\t"))
	if err != nil {
		t.Fatal(err)
	}
	for name, b := range map[string]string{"semicolons": text, "commas": strings.ReplaceAll(text, ";", ","), "with a mark": "\uFEFF" + text, "tabs": strings.ReplaceAll(text, ";", "\t"), "Windows": latin, "UTF-16": wide} {
		write(t, filepath.Join(dir, "register.csv"), b)
		out := must(t, exitDone, "register", "check", "--with-clients", "--quiet", "--office", dir)
		if !strings.Contains(out, "María Olmedo") || !strings.Contains(out, "2026-05-20") {
			t.Errorf("%s:\n%s", name, out)
		}
	}
}
