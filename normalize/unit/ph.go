package unit

import (
	"fmt"
	"math"
)

// MeanPH is the pH of the mean activity of the hydrogen ion of several readings,
// which is what a mean of pH values has to mean: pH is a logarithm, and the
// arithmetic mean of 4.0 and 8.8 is of no soil. Rayment and Lyons 2011, chapter
// 4. It refuses no readings and what is no pH (outside -2 to 16).
//
// No summary here takes a mean of pH; whoever adds one takes this.
func MeanPH(readings ...float64) (float64, error) {
	if len(readings) == 0 {
		return 0, fmt.Errorf("a mean of pH needs a reading")
	}
	sum := 0.0
	for _, p := range readings {
		if math.IsNaN(p) || p < -2 || p > 16 {
			return 0, fmt.Errorf("%v is no pH", p)
		}
		sum += math.Pow(10, -p)
	}
	return -math.Log10(sum / float64(len(readings))), nil
}
