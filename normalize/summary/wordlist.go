package summary

// A Wordlist numbers texts in the order in which they come; 0 is "". It is for
// many values of few words, each of which then holds a number.
type Wordlist struct {
	List []string // by number; empty until Of was called
	at   map[string]int32
}

// Of is the number of a text, a new one if it did not come before.
func (w *Wordlist) Of(s string) int32 {
	if w.at == nil {
		w.List, w.at = []string{""}, map[string]int32{"": 0}
	}
	n, ok := w.at[s]
	if !ok {
		n = int32(len(w.List))
		w.List, w.at[s] = append(w.List, s), n
	}
	return n
}

// Known is the number of a text that came before, 0 if it did not.
func (w *Wordlist) Known(s string) int32 { return w.at[s] }
