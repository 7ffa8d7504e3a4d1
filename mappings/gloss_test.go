package mappings

import (
	"strings"
	"testing"
)

// What a note in Spanish says against the mapping holds the report, and what
// agrees with it, or is advice, does not; common practice, no source.
func TestNotesInSpanish(t *testing.T) {
	const mapping = top + `
    format: pdf
    one sample each: row
    tables:
      - name: samples
        each row: a sample
        ends before: Nota
        columns:
          - {heading: No., reads: lab_sample_id}
          - {heading: pH}
          - {heading: P, unit: ppm}
          - {heading: K, unit: ppm}
`
	for note, want := range map[string]string{
		"Todos los resultados se expresan en lb/acre.":     "says-otherwise",
		"resultados en lb/acre":                            "says-otherwise",
		"Los resultados se expresan en libras por acre.":   "says-otherwise",
		"Fósforo expresado en kilogramos por hectárea.":    "says-otherwise",
		"Los resultados se expresan en partes por millón.": "",
		"PRELIMINAR":                                          "not-final",
		"P y K expresados en kg/ha.":                          "says-otherwise",
		"Los valores de fósforo están en kg/ha.":              "says-otherwise",
		"Fósforo determinado por el método Olsen.":            "says-otherwise",
		"El fósforo se expresa como P2O5.":                    "says-otherwise",
		"RESULTADOS EN BASE HÚMEDA":                           "says-otherwise",
		"Multiplique los resultados por dos.":                 "says-otherwise",
		"Matriz: Agua":                                        "says-otherwise",
		"Informe preliminar":                                  "not-final",
		"Los resultados son preliminares y pueden cambiar.":   "not-final",
		"Resultados sujetos a revisión":                       "not-final",
		"BORRADOR":                                            "not-final",
		"Los resultados se expresan en ppm.":                  "",
		"Fósforo y potasio por el método Mehlich-3.":          "",
		"Resultados en base seca.":                            "",
		"Gracias por su confianza en nuestro laboratorio.":    "",
		"Las muestras de suelo se guardan noventa días.":      "",
		"Recomendación: aplique cal agrícola según el suelo.": "",
	} {
		x := read(t, mapping, drawn("LAB\nNo.  pH   P    K\n          ppm  ppm\n101  6.1  12   140\nNota\n\n"+note))
		var got []string
		for _, r := range x.Reasons {
			if r.Code != "number-unaccounted" { // the digit of a method
				got = append(got, r.Code)
			}
		}
		if s := strings.Join(got, " "); s != want {
			t.Errorf("%q: %q, want %q", note, s, want)
		}
	}
	for text, want := range map[string]bool{
		"Este informe reemplaza el informe anterior.":         true,
		"Informe corregido":                                   true,
		"Los resultados del informe anterior son incorrectos": true,
		"Adjuntamos los resultados de su análisis.":           false,
		"La base de datos se actualiza cada año.":             false,
		"The report on the soil of Los Altos is attached.":    false,
	} {
		if got := Recalls(text, false) != ""; got != want {
			t.Errorf("%q recalls: %v", text, got)
		}
	}
}
