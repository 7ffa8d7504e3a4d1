package draft

import (
	"strings"
	"testing"
)

// A letter tells the sample's number and some results in sentences only.
func TestLetter(t *testing.T) {
	doc := drawn(`
QUARRY HILL SOIL LABORATORY

Thank you for your sample QH-1204 (upper field), which came in March.
In our lime buffer it settled at 6.83.

Soil pH       6.1                              Soils of old towns often hold more.
Zinc          3.3 ppm     scant                Keep children off bare soil there.
Potassium     120 ppm     scant
`)
	got, dr := drafted(t, doc)
	for _, w := range []string{"QH-1204 pH = 6.1", "QH-1204 Zn = 3.3 mg/kg", "QH-1204 K = 120 mg/kg", "QH-1204 buffer_pH = 6.83"} {
		if !strings.Contains(got, w) {
			t.Errorf("no %q in\n%s", w, got)
		}
	}
	if !asks(dr, "{lab_sample_id}") || !asks(dr, "settled at {result}") {
		t.Error("the sentences are not asked about:\n" + dr.Text)
	}
}

// The telephone behind an address at the head of a report is the laboratory's.
func TestLetterheadTelephone(t *testing.T) {
	const rest = `
Client:       Orla Thistlewood        Lab no.:      QH-1204%s

Test          Result     Unit
Soil pH       6.1
Zinc          3.3        ppm
Potassium     120        ppm
`
	_, dr := drafted(t, drawn("\nQUARRY HILL SOIL LABORATORY\n9 Quayside, Dunlin, CX 00087 tel. 555-0190\n"+strings.Replace(rest, "%s", "", 1)))
	if strings.Contains(dr.Text, "client_phone") {
		t.Error("the laboratory's telephone is the client's:\n" + dr.Text)
	}
	_, dr = drafted(t, drawn("\nQUARRY HILL SOIL LABORATORY\n9 Quayside, Dunlin\n"+strings.Replace(rest, "%s", "\nPhone:        555-0101", 1)))
	if !strings.Contains(dr.Text, "client_phone") {
		t.Error("the client's telephone is not proposed:\n" + dr.Text)
	}
}
