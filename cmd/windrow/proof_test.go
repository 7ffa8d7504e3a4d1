package main

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"example.org/windrow/ingest/scan"
	"example.org/windrow/normalize"
)

// TestProof leads a scan through the hands of a person: it is held, the
// workbook is filled in, and the report is read from that: with every value
// that the truth beside it has, who compared it, and without a program for
// scans. A figure that the person reads otherwise is told with what the program
// had read, and can be put right by a later proof.
func TestProof(t *testing.T) {
	if _, err := exec.LookPath("tesseract"); err != nil {
		t.Skip("tesseract is not on this machine; Debian's package is tesseract-ocr")
	}
	const file, lab = "DH-0470.pdf", "../../testdata/labs/dunmere-hand-laboratory/"
	dir := t.TempDir()
	settings(t, dir, "")
	copyFile(t, lab+file, filepath.Join(dir, "inbox", file))
	must(t, exitHeld, "run", "-q", "--office", dir)
	rep := reportOf(t, dir, file)
	note, err := os.ReadFile(filepath.Join(dir, "held", file+".why.txt"))
	if err != nil || !strings.Contains(strings.Join(strings.Fields(string(note)), " "), "(windrow proof "+rep.ID+")") {
		t.Errorf("the note doesn't tell what to do: %v\n%s", err, note)
	}
	book := filepath.Join(t.TempDir(), "sheet.xlsx")
	proof := func(exit int, args ...string) string {
		t.Helper()
		out, errs, got := toldBy(t, append([]string{"proof", rep.ID, "--office", dir}, args...)...)
		if got != exit {
			t.Fatalf("proof %v: exit %d, not %d\n%s%s", args, got, exit, out, errs)
		}
		return out + errs
	}
	proof(exitDone, "--sheet", book)
	if said := proof(exitFailed, "--sheet", book); !strings.Contains(said, "there is such a file already") {
		t.Errorf("a second sheet: %s", said)
	}
	if said := proof(exitFailed, "--take", book, "--by", "Ilse Marrow"); !strings.Contains(said, "sheet.xlsx: Compare!E") || !strings.Contains(said, "it is not said what stands there") {
		t.Errorf("a sheet that nobody filled in: %s", said)
	}
	fill(t, book, map[string]string{"172": "173"})
	proof(exitDone, "--take", book, "--by", "Ilse Marrow")
	value := func(analyte string) *normalize.Result {
		t.Helper()
		for _, rec := range reportOf(t, dir, file).Records {
			for _, res := range rec.Results {
				if res.Analyte == analyte {
					return res
				}
			}
		}
		t.Fatalf("there is no %s", analyte)
		return nil
	}
	if p := value("P").Printed; p.Text != "173" || p.OCR == nil || p.OCR.Proof == nil || p.OCR.Proof.Read != "172" || p.OCR.Proof.By != "Ilse Marrow" {
		t.Errorf("P is %+v", p)
	}
	out, errs, _ := toldBy(t, "trace", rep.ID+"-1", "P", "--office", dir)
	if !strings.Contains(out, "compared with its picture by Ilse Marrow") || !strings.Contains(out, `the program had read "172"`) {
		t.Errorf("the trace does not tell who read it: %s%s", out, errs)
	}
	fill(t, book, map[string]string{"172": "172"})
	proof(exitDone, "--take", book, "--by", "Orrin Vale")
	now := reportOf(t, dir, file)
	if now.Status == normalize.Held || len(lettersOut(t, dir)) != 1 {
		t.Fatalf("it is %s, with %d letters", now.Status, len(lettersOut(t, dir)))
	}
	var tr truth
	b, err := os.ReadFile(lab + "truth/" + file + ".json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, &tr); err != nil {
		t.Fatal(err)
	}
	n := &tally{}
	compare(t, file, &tr, normalize.Rows(now, normalize.RowOptions{WithClients: true}), n)
	if n.right != 14 || n.wrong+n.missed+n.invented+n.fieldsWrong > 0 {
		t.Errorf("%d results right: %+v", n.right, n)
	}
	for _, res := range now.Records[0].Results {
		if o := res.Printed.OCR; o == nil || o.Proof == nil || o.Proof.By != "Orrin Vale" || o.Proof.Read != "" {
			t.Errorf("%s: nobody compared it: %+v", res.Analyte, o)
		}
	}
	if held, err := os.ReadDir(filepath.Join(dir, "held")); err != nil || len(held) > 0 {
		t.Errorf("held: %v, %v", held, err)
	}
	if out := must(t, exitDone, "archive", "verify", "--office", dir); !strings.Contains(out, "2 proofs") || !strings.Contains(out, "all is well") {
		t.Errorf("verify: %s", out)
	}
	must(t, exitDone, "audit", "--office", dir)

	// What a person read needs no program any more, and is read the same again.
	settings(t, dir, "tesseract: no-such-program-for-scans\n")
	if out, errs, _ := toldBy(t, "replay", "--office", dir); !strings.HasPrefix(out, "1 report read anew, 0 would change") {
		t.Errorf("replay: %s%s", out, errs)
	}

	// A damaged proof holds: what the program reads is not what a person saw.
	all, err := filepath.Glob(filepath.Join(dir, "archive", "proofs", "*", rep.ID, "0002.json"))
	if err != nil || len(all) != 1 {
		t.Fatal(all, err)
	}
	if b, err = os.ReadFile(all[0]); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(all[0], 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(all[0], []byte(strings.Replace(string(b), `"172"`, `"1720"`, 1)), 0o600); err != nil {
		t.Fatal(err)
	}
	if out, errs, _ := toldBy(t, "replay", "--office", dir); !strings.Contains(out+errs, "1 would change") {
		t.Errorf("a damaged proof: %s%s", out, errs)
	}
	if out, _, exit := toldBy(t, "archive", "verify", "--office", dir); exit != exitFailed || !strings.Contains(out, "proofs/") {
		t.Errorf("verify of a damaged proof: %d %s", exit, out)
	}
}

// fill fills in the workbook as a person does who sees the page: signs of per
// cent that the program took for several marks are one, and the rest of what it
// was not sure of is as the first reading has it. instead are words to be read
// otherwise.
func fill(t *testing.T, book string, instead map[string]string) {
	t.Helper()
	f, err := excelize.OpenFile(book)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := f.GetRows("Compare")
	if err != nil {
		t.Fatal(err)
	}
	var signs []string // places of signs of per cent, by their left upper corner
	for i, r := range rows {
		if i < 4 || len(r) < 7 || r[0] == "" {
			continue
		}
		read, says, at := r[2], r[4], r[6]
		switch {
		case instead[read] != "":
			says = instead[read]
		case says != "" && read != "%":
			continue
		case len([]rune(read)) <= 2 && !strings.ContainsAny(r[3], "abcdefghijklmnopqrstuvwxyz"):
			column := at[:strings.Index(at, ",")-1] // marks within ten points of each other
			says = "%"
			if slices.Contains(signs, column) {
				says = scan.Nothing
			}
			signs = append(signs, column)
		default:
			says = read
		}
		if err := f.SetCellStr("Compare", "E"+strconv.Itoa(i+1), says); err != nil {
			t.Fatal(err)
		}
	}
	if err := f.Save(); err != nil {
		t.Fatal(err)
	}
}
