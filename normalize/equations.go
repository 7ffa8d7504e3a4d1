package normalize

import (
	"sync"

	"example.org/windrow/normalize/estimate"
	"example.org/windrow/normalize/method"
)

// equations are the conversions and scales, loaded once
// against our own analytes, methods and bibliography.
var equations = sync.OnceValue(func() *estimate.Table {
	t, err := estimate.Load(estimate.Embedded(), knownToEstimates())
	if err != nil {
		// Embedded and loaded by the tests: no user can meet this.
		panic("normalize: conversions between methods: " + err.Error())
	}
	return t
})

func knownToEstimates() estimate.Known {
	analyte := func(id string) bool {
		a, ok := method.Standard().Analyte(id)
		return ok && a.ID == id
	}
	return estimate.Known{
		Analyte: analyte,
		Method: func(id, a string) bool {
			m, ok := method.Standard().Method(id)
			return ok && m.ID == id && (a == "" || m.Applies(a))
		},
		Source: func(key string) bool { _, ok := bibliography()[key]; return ok },
	}
}

// Equations is the table of published conversions between methods and of
// published scales. It is shared and must not be changed.
func Equations() *estimate.Table { return equations() }

// NoteOf is what the table says of a conversion besides, such as that its
// authors would rather not convert; "" for nothing.
func NoteOf(conversion string) string {
	if r, ok := equations().Row(conversion); ok {
		return r.Note
	}
	return ""
}
