package draft

import (
	"slices"
	"strings"
	"testing"

	"example.org/windrow/ingest"
)

type shape struct {
	name  string
	doc   *ingest.Document
	want  string
	asked []string // texts of lines that must hold a question
}

// shapes are reports drawn as laboratories draw them, what must be read from
// each by its own draft, and the lines that must hold a question.
var shapes = []shape{
	{"rows of tests with a target and no unit for two of them", drawn(`
TAMARACK VALLEY SOIL TESTING SERVICE

Sample ID:  TV-1044                    Grower:  Orla Finch
County:     Tamarack                   Date reported:  05/19/2026

Analysis            Result  Units   Target    Level
pH (1:1)            6.2             6.5-7.0   Low
Phosphorus (P)      41      ppm     30        High
Potassium (K)       <25     ppm     120       Low
Organic Matter      3.4     %
Zinc                1.9     ppm     1.0       High

Recommendations: apply 50 lb per 1000 sq ft of lime in 2 years
`), `
TV-1044 pH = 6.2 pH Low
TV-1044 P = 41 mg/kg High
TV-1044 K = <25 mg/kg Low
TV-1044 OM = 3.4 %
TV-1044 Zn = 1.9 mg/kg High
`, nil},
	{"signs of the laboratory's own beside results", drawn(`
TAMARACK VALLEY SOIL TESTING SERVICE
Lab Number:  88                    Client:  Orla Finch

Test                Result  Qual    Unit
Lead                21              mg/kg
Cadmium             0.3     J       mg/kg
Nickel              12              mg/kg
`), `
88 Pb = 21 mg/kg
88 Cd = 0.3 mg/kg
88 Ni = 12 mg/kg
! qualifier-unknown
`, []string{"heading: Qual"}},
	{"two columns that could be the result", drawn(`
TAMARACK VALLEY SOIL TESTING SERVICE
Lab Number:  88                    Client:  Orla Finch

Test                Value   Result  Unit
Soil pH             6.2     6.4
Phosphorus          41      44      ppm
Potassium           90      95      ppm
`), `
88 pH = 6.2 pH
88 P = 41 mg/kg
88 K = 90 mg/kg
`, []string{"heading: Value", "heading: Result"}},
	{"a unit that nothing prints", drawn(`
VESPER SOIL LABORATORY
Lab No   Field       pH    P     K     OM (%)
101      North       6.5   30    120   3.1
102      South       5.9   22    98    2.7
103      East        6.1   27    101   2.9
`), `
101 pH = 6.5 pH
101 OM = 3.1 %
102 pH = 5.9 pH
102 OM = 2.7 %
103 pH = 6.1 pH
103 OM = 2.9 %
`, []string{"heading: P", "heading: K"}},
	{"units in the headings, a mean below", drawn(`
VESPER SOIL LABORATORY
Client: Moss Farm          County: Vesper         Reported: 2026-04-02

Lab No   Sample      pH     P        K       Ca      CEC
                            (ppm)    (ppm)   (ppm)   (meq/100g)
101      North       6.5    30       120     1510    9.1
102      South       5.9    22       98      1322    8.8
103      East        6.1    27       101     1400    9.0
Mean                 6.2    26       106     1411    9.0
`), `
101 pH = 6.5 pH
101 P = 30 mg/kg
101 K = 120 mg/kg
101 Ca = 1510 mg/kg
101 CEC = 9.1 cmol(+)/kg
102 pH = 5.9 pH
102 P = 22 mg/kg
102 K = 98 mg/kg
102 Ca = 1322 mg/kg
102 CEC = 8.8 cmol(+)/kg
103 pH = 6.1 pH
103 P = 27 mg/kg
103 K = 101 mg/kg
103 Ca = 1400 mg/kg
103 CEC = 9.0 cmol(+)/kg
`, nil},
	{"dot leaders", drawn(`
QUARRY CROSS TESTING ROOMS
Lab no.: QC-77     Client: Ned Oak
Reported: 14 Mar 2026

Soil pH ............................ 6.1
Phosphorus ......................... 34 ppm
Potassium .......................... 121 ppm
Organic matter ..................... 4.2 %
`), `
QC-77 pH = 6.1 pH
QC-77 P = 34 mg/kg
QC-77 K = 121 mg/kg
QC-77 OM = 4.2 %
`, nil},
	{"dot leaders in two columns, fields above their values", drawn(`
KESTREL MERE TESTING STATION

For               Our no.        Dated
Ansel Corrie      K 26/118       4 May 2026

Reaction (pH) ............... 6.4      Phosphorus ............ 41 mg/kg
Lime test (SMP) ............. 6.9      Potassium ............ 166 mg/kg
Organic matter, % ........... 3.7      Calcium ............ 1 420 mg/kg
`), `
K 26/118 pH = 6.4 pH
K 26/118 P = 41 mg/kg
K 26/118 buffer_pH = 6.9 pH
K 26/118 K = 166 mg/kg
K 26/118 OM = 3.7 %
K 26/118 Ca = 1420 mg/kg
`, []string{"Lime test (SMP)", "thousands:", "below: For"}},
	{"inline sentences", drawn(`
FINCH COUNTY GARDEN SOIL LABORATORY
Sample number: F-2201         Grower: Ida Wren

Your soil pH is 6.1. Phosphorus was 34 ppm.
Potassium was 121 ppm. Lead was 18 ppm.
Apply 2 lb of 10-10-10 per 100 sq ft.
`), `
F-2201 pH = 6.1 pH
F-2201 P = 34 mg/kg
F-2201 K = 121 mg/kg
F-2201 Pb = 18 mg/kg
`, []string{"Your soil pH is"}},
	{"label above value", drawn(`
WREN AGRICULTURAL LABORATORY
Lab number: W-5        Client: Tam Reed

Soil pH      Phosphorus (ppm)   Potassium (ppm)   Organic matter (%)
6.7          55                 210               2.8
`), `
W-5 pH = 6.7 pH
W-5 P = 55 mg/kg
W-5 K = 210 mg/kg
W-5 OM = 2.8 %
`, nil},
	{"a long list with other words", grid(`
SampleNo|CustomerSample|Analyte|Value|UOM|Method|Flag
S-1|bed a|pH|6.4|pH|1:1 water|
S-1|bed a|P|12|mg/kg|Olsen|
S-1|bed a|Zn|0.5|mg/kg|DTPA|<
S-2|bed b|pH|7.1|pH|1:1 water|
S-2|bed b|P|31|mg/kg|Olsen|
S-2|bed b|Zn|1.5|mg/kg|DTPA|
`, ""), `
S-1 pH = 6.4 pH
S-1 P = 12 mg/kg
S-1 Zn = <0.5 mg/kg
S-2 pH = 7.1 pH
S-2 P = 31 mg/kg
S-2 Zn = 1.5 mg/kg
`, nil},
	{"a wide file, amounts per acre", grid(`
Lab No|Field|pH|Buffer pH|P lb/A|K lb/A|OM %
7|A|6.1|6.7|40|210|2.2
8|B|6.6|6.9|55|260|2.5
`, ""), `
7 pH = 6.1 pH
7 buffer_pH = 6.7 pH
7 P = 40 lb/acre
7 K = 210 lb/acre
7 OM = 2.2 %
8 pH = 6.6 pH
8 buffer_pH = 6.9 pH
8 P = 55 lb/acre
8 K = 260 lb/acre
8 OM = 2.5 %
`, []string{"for what depth and mass of soil"}},
	{"a sheet with samples across", grid(`
HILLTOP SOIL LABORATORY
Client|Moss Farm
Lab no.||S101|S102|S103
Analysis|Unit|||
pH||6.1|6.5|7.0
Phosphorus|mg/kg|12|18|25
Potassium|mg/kg|120|150|99
Calcium|mg/kg|1200|1500|2100
`, "Results"), `
S101 pH = 6.1 pH
S101 P = 12 mg/kg
S101 K = 120 mg/kg
S101 Ca = 1200 mg/kg
S102 pH = 6.5 pH
S102 P = 18 mg/kg
S102 K = 150 mg/kg
S102 Ca = 1500 mg/kg
S103 pH = 7.0 pH
S103 P = 25 mg/kg
S103 K = 99 mg/kg
S103 Ca = 2100 mg/kg
`, nil},
	{"phosphate and potash", drawn(`
OLD MILL LABORATORY
Lab No: 12        Grower: Ida Wren
Test          Result   Unit
pH            6.4
Phosphate     80       lb/acre
Potash        160      lb/acre
`), `
12 pH = 6.4 pH
12 P as not stated = 80 lb/acre
12 K as not stated = 160 lb/acre
`, []string{"Phosphate:", "Potash:"}},
	{"one test in two units", grid(`
Lab No|Field|pH|P ppm|P lb/acre|K ppm|K lb/acre
7|A|6.1|20|40|105|210
8|B|6.6|27|55|130|260
`, ""), `
7 pH = 6.1 pH
7 P = 20 mg/kg
7 K = 105 mg/kg
8 pH = 6.6 pH
8 P = 27 mg/kg
8 K = 130 mg/kg
`, []string{"heading: P lb/acre", "heading: K lb/acre"}},
	{"saturations beside nutrients of the same name", drawn(`
VESPER SOIL LABORATORY
                          Nutrients, ppm        Base saturation, %
Lab No   Field     pH     K      Ca     Mg      K     Ca     Mg
101      North     6.5    120    1510   130     3.1   70.2   12.0
102      South     5.9    98     1322   122     2.9   66.0   11.1
103      East      6.0    99     1350   118     3.0   67.1   11.9
`), `
101 pH = 6.5 pH
101 K = 120 mg/kg
101 Ca = 1510 mg/kg
101 Mg = 130 mg/kg
101 base_sat_K = 3.1 %
101 base_sat_Ca = 70.2 %
101 base_sat_Mg = 12.0 %
102 pH = 5.9 pH
102 K = 98 mg/kg
102 Ca = 1322 mg/kg
102 Mg = 122 mg/kg
102 base_sat_K = 2.9 %
102 base_sat_Ca = 66.0 %
102 base_sat_Mg = 11.1 %
103 pH = 6.0 pH
103 K = 99 mg/kg
103 Ca = 1350 mg/kg
103 Mg = 118 mg/kg
103 base_sat_K = 3.0 %
103 base_sat_Ca = 67.1 %
103 base_sat_Mg = 11.9 %
`, nil},
	{"two samples side by side, last year's figures", drawn(`
CEDAR ROW GROWERS LABORATORY            Report no: CR-9
Member: Ann Moss                        Date reported: 2026-04-12

Sample no: CR-901    Field: A           Sample no: CR-902    Field: B
Test        Unit   2026   2025          Test        Unit   2026   2025
pH                 6.4    6.2           pH                 5.9    6.0
P           ppm    31     28            P           ppm    44     40
K           ppm    120    118           K           ppm    99     101
Advice: apply lime                      Advice: none
`), `
CR-901 pH = 6.4 pH
CR-901 P = 31 mg/kg
CR-901 K = 120 mg/kg
CR-902 pH = 5.9 pH
CR-902 P = 44 mg/kg
CR-902 K = 99 mg/kg
`, []string{"{this year}"}},
	{"a file with preamble and units in a row of their own", grid(`
Report|X-7||||
Client|Moss Farm||||
Lab ID|Field|pH|P|K|OM
|||mg/kg|mg/kg|%
501|A|6.1|12|120|3.3
502|B|6.6|18|140|2.9
Mean||6.4|15|130|3.1
`, ""), `
501 pH = 6.1 pH
501 P = 12 mg/kg
501 K = 120 mg/kg
501 OM = 3.3 %
502 pH = 6.6 pH
502 P = 18 mg/kg
502 K = 140 mg/kg
502 OM = 2.9 %
`, nil},
	{"decimal comma", grid(`
Lab No|Sample|pH|P mg/kg|K mg/kg|OM %
A-101|x|6,1|12,5|120|3,3
A-102|y|6,6|18,0|1.140|2,9
`, ""), `
A-101 pH = 6.1 pH
A-101 P = 12.5 mg/kg
A-101 K = 120 mg/kg
A-101 OM = 3.3 %
A-102 pH = 6.6 pH
A-102 P = 18.0 mg/kg
A-102 K = 1140 mg/kg
A-102 OM = 2.9 %
`, nil},
	{"blocks of labels one below the other", drawn(`
PINE HOLLOW LABORATORY
Client: Ann Moss     County: Wren

Lab No: 7001    Sample: Bed 1
pH 6.1          P 34 ppm        K 120 ppm
OM 3.3 %        Zn 1.2 ppm

Lab No: 7002    Sample: Bed 2
pH 5.8          P 51 ppm        K 99 ppm
OM 2.9 %        Zn 0.9 ppm
`), `
7001 pH = 6.1 pH
7001 P = 34 mg/kg
7001 K = 120 mg/kg
7001 OM = 3.3 %
7001 Zn = 1.2 mg/kg
7002 pH = 5.8 pH
7002 P = 51 mg/kg
7002 K = 99 mg/kg
7002 OM = 2.9 %
7002 Zn = 0.9 mg/kg
`, nil},
	{"samples across a page, numbered plainly", drawn(`
HILLTOP SOIL LABORATORY
Client: Moss Farm       Reported: 2026-05-01

Lab no.            Unit      30211    30212    30213
Field                        North    South    East
pH                           6.1      6.5      7.0
Phosphorus         mg/kg     12       18       25
Potassium          mg/kg     120      150      99
`), `
30211 pH = 6.1 pH
30211 P = 12 mg/kg
30211 K = 120 mg/kg
30212 pH = 6.5 pH
30212 P = 18 mg/kg
30212 K = 150 mg/kg
30213 pH = 7.0 pH
30213 P = 25 mg/kg
30213 K = 99 mg/kg
`, nil},
	{"indexes beside the results", drawn(`
VESPER SOIL LABORATORY
Lab No: 4411      Grower: Ned Oak
Nutrient       Result   Unit     Index   Rating
pH             6.0
Phosphorus     33       mg/dm3   28      Medium
Potassium      110      mg/dm3   56      High
Zinc           70       index
`), `
4411 pH = 6.0 pH
4411 P = 33 mg/dm3 Medium
4411 K = 110 mg/dm3 High
4411 Zn as index = 70 index
`, nil},
	{"a table of what to apply is no result", drawn(`
VESPER SOIL LABORATORY
Lab No: 4411      Grower: Ned Oak
Test           Result   Unit
pH             6.0
Phosphorus     33       ppm
Potassium      110      ppm

Fertilizer recommendations, lb/acre
Crop           P2O5     K2O
Corn           40       60
Wheat          30       45
`), `
4411 pH = 6.0 pH
4411 P = 33 mg/kg
4411 K = 110 mg/kg
`, nil},
	{"units as headings", drawn(`
VESPER SOIL LABORATORY
Lab No: 4411      Grower: Ned Oak
Nutrient       ppm      lb/acre   Rating
Phosphorus     33       66        Medium
Potassium      110      220       High
Calcium        1200     2400      High
`), `
4411 P = 33 mg/kg Medium
4411 K = 110 mg/kg High
4411 Ca = 1200 mg/kg High
`, []string{"heading: ppm", "heading: lb/acre"}},
	{"check samples among samples", grid(`
Lab No|Field|pH|P ppm|K ppm
QC1|control|7.0|20|105
881|A|6.1|20|105
882|B|6.6|27|130
`, ""), `
881 pH = 6.1 pH
881 P = 20 mg/kg
881 K = 105 mg/kg
882 pH = 6.6 pH
882 P = 27 mg/kg
882 K = 130 mg/kg
`, []string{"begins: QC1"}},
	{"a sheet of labels and values", grid(`
HILLTOP SOIL LABORATORY
Lab number|HS-310
Client|Moss Farm
Soil pH|6.3|
Phosphorus|18|mg/kg
Potassium|140|mg/kg
Organic matter|3.1|%
`, "Report"), `
HS-310 pH = 6.3 pH
HS-310 P = 18 mg/kg
HS-310 K = 140 mg/kg
HS-310 OM = 3.1 %
`, nil},
	{"years in the headings, the older first", drawn(`
VESPER SOIL LABORATORY
Lab No: 4411      Grower: Ned Oak     Reported: 2026-03-02
Test           Unit     Result 2025   Result 2026
pH                      5.8           6.0
Phosphorus     ppm      30            33
Potassium      ppm      101           110
`), `
4411 pH = 6.0 pH
4411 P = 33 mg/kg
4411 K = 110 mg/kg
`, []string{"Result {this year}"}},
	{"current and previous", drawn(`
VESPER SOIL LABORATORY
Lab No: 4411      Grower: Ned Oak     Reported: 2026-03-02
Test           Unit     Previous   Current   Desired
pH                      5.8        6.0       6.5
Phosphorus     ppm      30         33        40
Potassium      ppm      101        110       150
`), `
4411 pH = 6.0 pH
4411 P = 33 mg/kg
4411 K = 110 mg/kg
`, nil},
	{"several numbers beside a label", drawn(`
VESPER SOIL LABORATORY
Lab No: 4411      Grower: Ned Oak

                       1          2          3
Soil pH                6.1        6.5        7.0
Phosphorus, ppm        31         44         20
Potassium, ppm         120        99         87
`), `
4411 pH = 6.1 pH
4411 P = 31 mg/kg
4411 K = 120 mg/kg
! number-unaccounted
`, []string{"test: Soil pH", "test: \"Phosphorus, ppm\"", "test: \"Potassium, ppm\""}},
	{"units and ratings under the name of a test", drawn(`
VESPER SOIL LABORATORY
                            Phosphorus            Potassium
Lab No   Field     pH     ppm     Rating        ppm     Rating
101      North     6.5    20      Low           120     High
102      South     5.9    18      Low           98      Medium
103      East      6.0    19      Low           99      Medium
`), `
101 pH = 6.5 pH
101 P = 20 mg/kg Low
101 K = 120 mg/kg High
102 pH = 5.9 pH
102 P = 18 mg/kg Low
102 K = 98 mg/kg Medium
103 pH = 6.0 pH
103 P = 19 mg/kg Low
103 K = 99 mg/kg Medium
`, nil},
	{"three kinds of phosphorus", drawn(`
VESPER SOIL LABORATORY
Lab No   Field     pH     Bray P1   Bray P2   Olsen P    K
                          ppm       ppm       ppm        ppm
101      North     6.5    20        41        12         120
102      South     7.9    4         18        9          98
103      East      7.0    9         28        10         99
`), `
101 pH = 6.5 pH
101 P = 20 mg/kg
101 P = 41 mg/kg
101 P = 12 mg/kg
101 K = 120 mg/kg
102 pH = 7.9 pH
102 P = 4 mg/kg
102 P = 18 mg/kg
102 P = 9 mg/kg
102 K = 98 mg/kg
103 pH = 7.0 pH
103 P = 9 mg/kg
103 P = 28 mg/kg
103 P = 10 mg/kg
103 K = 99 mg/kg
`, nil},
	{"water pH and salt pH", grid(`
Sample Name|Lab Number|Water pH|Salt pH (CaCl2)|Buffer pH (SMP)|Phosphorus (P2O5) lb/ac|Potash (K2O) lb/ac|Cation Exchange Capacity (meq/100g)|Ca % of CEC
home|S22|6.5|6.0|6.9|80|210|11.2|71
`, "Data"), `
S22 pH = 6.5 pH
S22 pH = 6.0 pH
S22 buffer_pH = 6.9 pH
S22 P as P2O5 = 80 lb/acre
S22 K as K2O = 210 lb/acre
S22 CEC = 11.2 cmol(+)/kg
S22 base_sat_Ca = 71 %
`, nil},
	{"an advice in labels", drawn(`
VESPER SOIL LABORATORY
Lab No: 4411      Grower: Ned Oak

Soil pH ........... 6.1
Phosphorus ........ 31 ppm
Potassium ......... 120 ppm

Amounts to apply
P2O5 .............. 40 lb/acre
K2O ............... 60 lb/acre
`), `
4411 pH = 6.1 pH
4411 P = 31 mg/kg
4411 K = 120 mg/kg
`, nil},
	{"a target before the result", drawn(`
VESPER SOIL LABORATORY
Lab No: 4411      Grower: Ned Oak
Test           Target   You       Unit
pH             6.5      6.0
Phosphorus     40       33        ppm
Potassium      150      110       ppm
`), `
4411 pH = 6.0 pH
4411 P = 33 mg/kg
4411 K = 110 mg/kg
`, []string{"heading: You"}},
	{"blanks where a test was not run", grid(`
Lab No|Field|pH|Buffer pH|P ppm|K ppm
881|A|6.1|6.8||105
882|B|7.2||27|130
`, ""), `
881 pH = 6.1 pH
881 buffer_pH = 6.8 pH
881 K = 105 mg/kg
882 pH = 7.2 pH
882 P = 27 mg/kg
882 K = 130 mg/kg
`, nil},
	{"an invoice", drawn(`
HILLTOP SOIL LABORATORY
Invoice 2231          Date: 05/01/2026
Description           Quantity   Price    Amount
Routine soil test     12         15.00    180.00
Lead screen           2          20.00    40.00
Total due                                 220.00
`), "nothing: draft-empty\n", nil},
}

func TestShapes(t *testing.T) {
	for _, c := range slices.Concat(shapes, pageShapes, pairShapes, sheetShapes) {
		t.Run(c.name, func(t *testing.T) {
			got, dr := drafted(t, c.doc)
			if got != strings.TrimLeft(c.want, "\n") {
				t.Errorf("got\n%swant%s", got, c.want)
			}
			for _, a := range c.asked {
				if dr == nil || !asks(dr, a) {
					t.Errorf("no question on the line with %q", a)
				}
			}
		})
	}
}
