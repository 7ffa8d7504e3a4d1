package draft

// pageShapes are further reports of one page, each with a cause for which
// an unedited draft once read it wrongly or not at all.
var pageShapes = []shape{
	{"marks that a legend explains, two samples on a page, stars as ratings", drawn(`
QUARRY CROSS TESTING ROOMS               REPORT Q-881
GROWER: Ned Oak            COUNTY: QUARRY
=====================================================
SAMPLE NO: 26-0101        FIELD: Upper
pH (a)               :  6.1         Potassium (b)     :  121 ppm   **
Phosphorus (b)       :   34 ppm *   Sulfur index (c)  :   55
-----------------------------------------------------
SAMPLE NO: 26-0102        FIELD: Lower
pH (a)               :  5.8         Potassium (b)     :   90 ppm   *
Phosphorus (b)       :   51 ppm **  Sulfur index (c)  :   47
-----------------------------------------------------
KEY  (a) 1:1 water (b) Mehlich-1 (c) Mehlich-3
     * low ** medium *** high
`), `
26-0101 pH = 6.1 pH
26-0101 K = 121 mg/kg **
26-0101 P = 34 mg/kg *
26-0101 S as index = 55 index
26-0102 pH = 5.8 pH
26-0102 K = 90 mg/kg *
26-0102 P = 51 mg/kg **
26-0102 S as index = 47 index
`, nil},
	{"a mark that nothing explains", drawn(`
QUARRY CROSS TESTING ROOMS
Lab no.: QC-78     Client: Ned Oak
Phosphorus (T)      34 ppm
Potassium (T)      121 ppm
Calcium (T)       1121 ppm
`), `
QC-78 P = 34 mg/kg
QC-78 K = 121 mg/kg
QC-78 Ca = 1121 mg/kg
`, []string{"Phosphorus (T): {", "Potassium (T): {", "Calcium (T): {"}},
	{"a ratio in a heading of three levels, divided words, last year's column", drawn(`
VESPER SOIL LABORATORY
                  REACTION          EXTRACTABLE                  EXCHANGE
             pH           Salts   Phosphorus     Bases     cmol(+)/kg   Saturation, %
Lab          in     in    1:2     P      prev.   Potas-
no.  Field   water  CaCl2 mS/cm   mg/kg  P       sium        CEC        K      Ca
                                         mg/kg   mg/kg
101  North   6.5    6.0   0.21    20     22      120         9.1        3.1    70.2
102  South   5.9    5.4   0.31    18     17      98          8.8        2.2    66.1
103  East    6.0    5.5   0.11    19     20      99          9.0        2.8    68.0
`), `
101 pH = 6.5 pH
101 pH = 6.0 pH
101 EC = 0.21 dS/m
101 P = 20 mg/kg
101 CEC = 9.1 cmol(+)/kg
101 base_sat_K = 3.1 %
101 base_sat_Ca = 70.2 %
102 pH = 5.9 pH
102 pH = 5.4 pH
102 EC = 0.31 dS/m
102 P = 18 mg/kg
102 CEC = 8.8 cmol(+)/kg
102 base_sat_K = 2.2 %
102 base_sat_Ca = 66.1 %
103 pH = 6.0 pH
103 pH = 5.5 pH
103 EC = 0.11 dS/m
103 P = 19 mg/kg
103 CEC = 9.0 cmol(+)/kg
103 base_sat_K = 2.8 %
103 base_sat_Ca = 68.0 %
`, []string{"heading: Potas- sium", "'in CaCl2' stand under"}},
}
