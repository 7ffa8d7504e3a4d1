package draft

import "strings"

// kindOf groups the ids of units by what they measure, as far as a mix-up
// would be a mistake in the proposal.
var kindOf = map[string]string{
	"%": "share", "g/kg": "share",
	"cmol(+)/kg": "charge", "mmol(+)/kg": "charge", "cmol(+)/dm3": "charge", "mmol(+)/dm3": "charge",
	"dS/m": "conductivity", "uS/cm": "conductivity", "mS/m": "conductivity",
	"g/cm3": "density", "kg/m3": "density",
}

// suits reports whether a unit is one that an analyte can have. Elements may
// be given by mass, charge, area or as a share; the others have their kinds.
func suits(analyte, unit string) bool {
	k := kindOf[unit]
	if unit == "index" {
		return true
	}
	switch {
	case strings.HasPrefix(analyte, "base_sat"):
		return unit == "%"
	case analyte == "CEC" || analyte == "acidity":
		return k == "charge"
	case analyte == "EC":
		return k == "conductivity"
	case analyte == "density":
		return k == "density"
	case analyte == "OM" || analyte == "OC" || analyte == "sand" || analyte == "silt" || analyte == "clay" || analyte == "solids":
		return k == "share"
	case analyte == "pH" || analyte == "buffer_pH":
		return unit == "pH"
	}
	return k != "conductivity" && k != "density"
}
