package pdf

import (
	"strings"
	"testing"
)

// A number that a line runs through was taken back by whoever drew the line:
// it is read and noted, so that it can't pass for a result. Rules of tables,
// underlines and what can't be seen strike nothing out. The heights are those
// at which office programs draw: a strike-out a quarter to a third of an em
// above the base line, an underline a tenth below it (common practice, no
// source).
func TestStruckOut(t *testing.T) {
	at := " BT /F1 10 Tf 20 200 Td "
	num := at + "(38 ppm) Tj ET "
	for name, c := range map[string]struct{ content, want string }{
		"a line after the text":       {num + "1 w 19 203 m 33 203 l S", "38"},
		"a line before the text":      {"19 203 m 33 203 l S" + num, "38"},
		"a thin area":                 {num + "0 g 19 202.4 14 0.6 re f", "38"},
		"a thin area of four corners": {num + "19 202.4 m 33 202.4 l 33 203 l 19 203 l f", "38"},
		"the whole row":               {num + "10 203 m 380 203 l S", "38"},
		"in larger space":             {"2 0 0 2 0 0 cm BT /F1 10 Tf 20 100 Td (38 ppm) Tj ET 19 103 m 33 103 l S", "38"},
		"half of a number":            {num + "19 203 m 26 203 l S", "38"},
		"upwards":                     {" BT /F1 10 Tf 0 1 -1 0 100 50 Tm (38 ppm) Tj ET 97 49 m 97 62 l S", "38"},
		"an underline":                {num + "19 199 m 33 199 l S", ""},
		"a rule under the row":        {num + "10 196 m 380 196 l S", ""},
		"a rule over the row":         {num + "10 208 m 380 208 l S", ""},
		"a frame":                     {num + "15 195 60 14 re S", ""},
		"white on paper":              {num + "1 G 19 203 m 33 203 l S", ""},
		"a wide mark":                 {num + "6 w 0.9 G 19 203 m 33 203 l S", ""},
		"made and not drawn":          {num + "19 203 m 33 203 l n", ""},
		"clipped away":                {num + "q 0 0 10 10 re W n 19 203 m 33 203 l S Q", ""},
		"a dash before the number":    {num + "12 203 m 19 203 l S", ""},
		"a line down beside it":       {num + "34 190 m 34 220 l S", ""},
		"a word without digits":       {num + "36 203 m 60 203 l S", ""},
		"not level":                   {num + "19 200 m 33 206 l S", ""},
	} {
		t.Run(name, func(t *testing.T) {
			var got []string
			for _, n := range mustRead(t, onePage(c.content)).Notes {
				if n.Code == CodeStruck {
					got = append(got, n.Found)
					if n.Where.Page != 1 || n.Where.Box == nil || n.Next == "" {
						t.Errorf("a note without place or advice: %+v", n)
					}
				}
			}
			if g := strings.Join(got, " "); g != c.want {
				t.Errorf("struck out: got %q, want %q", g, c.want)
			}
		})
	}
	// A page full of them is told in few notes.
	many := ""
	for i := range 12 {
		many += strings.Replace(strings.Replace(num+"19 203 m 33 203 l S ", "200", []string{"20", "40", "60", "80", "100", "120", "140", "160", "180", "200", "220", "240"}[i], 1), "203", []string{"23", "43", "63", "83", "103", "123", "143", "163", "183", "203", "223", "243"}[i], 2)
	}
	if n := len(mustRead(t, onePage(many)).Notes); n != mostStruck+1 {
		t.Errorf("%d notes of a page of struck numbers, want %d", n, mostStruck+1)
	}
}
