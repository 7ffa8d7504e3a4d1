package normalize

// RatingClasses lists the rating classes, in the order of the table.
func RatingClasses() []RatingClass {
	var out []RatingClass
	for _, c := range standardWords().classes {
		out = append(out, *c)
	}
	return out
}
