package draft

import "example.org/windrow/ingest"

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
	{"a page with a column for each sample and no other heading, a decimal comma", drawn(`
TAMARACK VALLEY SOIL TESTING
Client: Orla Finch      Reported: 14.03.2026

Lab number          T-4401     T-4402     T-4403
Your sample         North      South      East
Soil pH             6,1        5,8        7,0
Phosphorus mg/kg    12,4       18,0       25,5
Organic matter %    2,9        3,4        4,1
`), `
T-4401 pH = 6.1 pH
T-4401 P = 12.4 mg/kg
T-4401 OM = 2.9 %
T-4402 pH = 5.8 pH
T-4402 P = 18.0 mg/kg
T-4402 OM = 3.4 %
T-4403 pH = 7.0 pH
T-4403 P = 25.5 mg/kg
T-4403 OM = 4.1 %
`, nil},
	{"lines of metals under a table, and a footer with the averages of others", drawn(`
CORVANE SOIL CLINIC
Lab number: C-512        Client: Tam Reed

Test              Result    Unit    Level
Soil pH              6.3            Optimum
Organic matter       4.1    %       High
Phosphorus            58    ppm     Optimum
Calcium             1640    ppm     High
Metals, total (mg/kg)
Pb   38           Cd    0.4
Zn 61.5           Cu   17.2


County averages: pH 6.2   organic matter 3.8 %   phosphorus 44 ppm
`), `
C-512 pH = 6.3 pH Optimum
C-512 OM = 4.1 % High
C-512 P = 58 mg/kg Optimum
C-512 Ca = 1640 mg/kg High
! test-unknown
`, []string{"'Metals, total", "'Pb 38'", "'County averages"}},
	{"labels over values with units, on several lines", drawn(`
WREN AGRICULTURAL LABORATORY
Lab number: W-512        Client: Tam Reed

Soil pH      Phosphorus      Potassium      Organic matter
6.7          55 ppm          210 ppm        2.8 %

Calcium      Magnesium       Sulfur         CEC
1200 ppm     150 ppm         12 ppm         9.1 meq/100g
`), `
W-512 pH = 6.7 pH
W-512 P = 55 mg/kg
W-512 K = 210 mg/kg
W-512 OM = 2.8 %
W-512 Ca = 1200 mg/kg
W-512 Mg = 150 mg/kg
W-512 S = 12 mg/kg
W-512 CEC = 9.1 cmol(+)/kg
`, nil},
	{"cards with the value under the label, samples numbered in the middle of a line", drawn(`
WREN AGRICULTURAL LABORATORY
Grower        County      Reported
Tam Reed      Wren        14-Mar-2026

Sample 1 Lab no. 26-4101 "Upper field" corn

     Soil pH          Lime test index     Organic matter
       6.1                 67                 2.9 %
       Low                                    Low
  optimum 6.5-7.0                         optimum 3-6

Exchange and metals
Calcium saturation ......... 61 %     Zinc (Zn) ..... <0.5 ppm

Sample 2 Lab no. 26-4102 "Lower field" corn

     Soil pH          Lime test index     Organic matter
       5.2                 64                 3.9 %
       Low                                  Optimum
  optimum 6.5-7.0                         optimum 3-6

Exchange and metals
Calcium saturation ......... 58 %     Zinc (Zn) ...... 1.5 ppm
`), `
26-4101 pH = 6.1 pH Low
26-4101 buffer_pH = 67 lime-index
26-4101 OM = 2.9 % Low
26-4101 base_sat_Ca = 61 %
26-4101 Zn = <0.5 mg/kg
26-4102 pH = 5.2 pH Low
26-4102 buffer_pH = 64 lime-index
26-4102 OM = 3.9 % Optimum
26-4102 base_sat_Ca = 58 %
26-4102 Zn = 1.5 mg/kg
! number-unaccounted
`, []string{"Lime test index: {", "the beginning of a block"}},
	{"label and value in neighbouring cells, with units in the cells", grid(`
HILLTOP SOIL LABORATORY
Lab number:|H7701||Client:|Moss Farm
Reaction|||Nutrients
pH:|6.1||Phosphorus:|12 ppm
Buffer pH:|6.93||Potassium:|1,120 ppm
Organic matter:|2.5%||Zinc:|<0.5
Lime advice:|1.5 t/acre||CEC:|7.8 meq/100 g
`, "Certificate"), `
H7701 pH = 6.1 pH
H7701 P = 12 mg/kg
H7701 buffer_pH = 6.93 pH
H7701 K = 1120 mg/kg
H7701 OM = 2.5 %
H7701 CEC = 7.8 cmol(+)/kg
! number-unaccounted
`, []string{"'Zinc: <0.5'", "'Lime advice: 1.5 t/acre'"}},
	{"samples across with the unit in each cell, and guide columns", grid(`
HILLTOP SOIL LABORATORY
Laboratory number|Method|7050|7051|7052|Guide low|Guide high
Your mark||Tile E|Tile W|Swale||
pH|in water 1:1|5.9|6.4|6.0|6.0|7.0
Phosphorus|Bray P-1|39 ppm|16 ppm|57 ppm|20 ppm|40 ppm
Iron|DTPA|34.1|51.3 ppm|29.5 ppm||
K saturation||2.8%|3.6%|5.7%||
`, "Results"), `
7050 pH = 5.9 pH
7050 P = 39 mg/kg
7050 Fe = 34.1 mg/kg
7050 base_sat_K = 2.8 %
7051 pH = 6.4 pH
7051 P = 16 mg/kg
7051 Fe = 51.3 mg/kg
7051 base_sat_K = 3.6 %
7052 pH = 6.0 pH
7052 P = 57 mg/kg
7052 Fe = 29.5 mg/kg
7052 base_sat_K = 5.7 %
`, []string{"Iron: {"}},
	{"codes that another sheet explains, rows by their state, a word for none", twoSheets(grid(`
QUARRY REGISTRY LABORATORY
Sample|Customer ref.|Code|Result|Unit|Method|Status|Price
S101|north|PH-W|6.1||M-1|FINAL|1.75
S101|north|P2O5-O|14.2|mg/100 g|M-2|FINAL|1.75
S101|north|ZN-D|IS|mg/kg|M-3|FINAL|1.75
S102|south|PH-W|7.0||M-1|FINAL|1.75
S102|south|P2O5-O|9.9|mg/100 g|M-2|REPLACED|1.75
S102|south|P2O5-O|9.1|mg/100 g|M-2|FINAL|1.75
S102|south|ZN-D|1.1|mg/kg|M-3|FINAL|1.75
`, "Results"), grid(`
Code|Determination|Unit|Method|Method text
PH-W|pH||M-1|1:1 water
P2O5-O|phosphorus as P2O5|mg/100 g|M-2|Olsen
ZN-D|Zn|mg/kg|M-3|DTPA
`, "Codes")), `
S101 pH = 6.1 pH
S101 P as P2O5 = 14.2 mg/100g
S101 Zn = IS mg/kg
S102 pH = 7.0 pH
S102 P as P2O5 = 9.1 mg/100g
S102 Zn = 1.1 mg/kg
`, []string{"says: REPLACED", "missing: [IS]"}},
	{"a letter with shares in a list, last year's values and what others have", drawn(`
FINCH COUNTY GARDEN SOIL LABORATORY

Re: Sample No. FG26-0318 - "Front bed"

Your garden was last tested in 2022, when the pH was 7.6 and the
phosphorus level 21 ppm.

Your soil pH is 6.1, which is low. Phosphorus was 34 ppm. The exchange
capacity of your soil (CEC) is 9.5 meq/100 g. Of this, calcium holds 61%,
magnesium 15% and potassium the other 3%; soils of this county run from
6 to 18 meq/100 g.
`), `
FG26-0318 pH = 6.1 pH
FG26-0318 P = 34 mg/kg
FG26-0318 CEC = 9.5 cmol(+)/kg
FG26-0318 base_sat_Ca = 61 %
FG26-0318 base_sat_Mg = 15 %
FG26-0318 base_sat_K = 3 %
! number-unaccounted
`, []string{"Your soil pH is", "calcium holds", "'phosphorus level 21 ppm.'"}},
}

// twoSheets puts the sheets of two workbooks into one.
func twoSheets(a, b *ingest.Document) *ingest.Document {
	b.Pages[0].Number = 2
	a.Pages[0].Number = 1
	a.Pages = append(a.Pages, b.Pages...)
	return a
}
