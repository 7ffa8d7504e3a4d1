package pipeline

import (
	"os"
	"runtime/debug"
)

// memoryAim is the memory above which this process collects its garbage
// harder, in bytes. A list of 30,000 rows or a workbook of 5,000 samples then
// stays below 400 MiB, the parser included; what is live of a larger file may
// go beyond, at the price of time.
const memoryAim = 285 << 20

// boundMemory sets that, unless the operator has set it.
func boundMemory() {
	if os.Getenv("GOMEMLIMIT") == "" {
		debug.SetMemoryLimit(memoryAim)
	}
}
