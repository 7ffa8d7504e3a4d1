package config

import (
	"fmt"
	"reflect"
	"time"
)

// fromText turns the text of a flag or of an environment variable into the
// type of its setting. Texts of the file never come here: they have their
// own type already.
func fromText(from, to reflect.Value) (any, error) {
	if from.Kind() != reflect.String || to.Kind() == reflect.String {
		return from.Interface(), nil
	}
	s := from.String()
	switch to.Interface().(type) {
	case int:
		if n, ok := wholeNumber(s); ok {
			return int(n), nil
		}
	case Size:
		if n, ok := parseSize(s); ok {
			return n, nil
		}
	case time.Duration:
		if d, ok := parseDuration(s); ok {
			return d, nil
		}
	}
	return nil, fmt.Errorf("%s is not a %s", quoted(s), to.Type())
}
