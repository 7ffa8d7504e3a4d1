package scan

import (
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"example.org/windrow/ingest"
)

// text is what the pages of the tests below have on them.
func text(rng *rand.Rand, lines int) []string {
	var out []string
	for i := range lines {
		out = append(out, fmt.Sprintf("%2d  Phosphorus  %5.1f ppm   Potassium %4d   pH %.2f", i+1, rng.Float64()*90, rng.IntN(900), 4+rng.Float64()*4))
	}
	return out
}

// TestSkew turns a page by known angles and wants them back within a tenth of
// a degree.
func TestSkew(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	worst := 0.0
	for i := range 24 {
		angle := rng.Float64()*18 - 9
		page := drawn(150, 2, text(rng, 6+rng.IntN(24)))
		if i%2 == 0 { // a table
			for k := range 8 {
				rule(page, 120, 140+k*80, 1150, 142+k*80)
				rule(page, 120+k*140, 140, 122+k*140, 700)
			}
		}
		askew := worn(resample(page, -angle, 1), rng, float64(i%4)*6)
		got := skew(flatten(askew, 150), 150)
		worst = max(worst, math.Abs(got-angle))
		if math.Abs(got-angle) > 0.1 {
			t.Errorf("page %d turned by %.2f degrees was found at %.2f", i, angle, got)
		}
	}
	t.Logf("24 pages, at most %.3f degrees off", worst)
	if a := skew(white(1200, 1600), 150); a != 0 {
		t.Errorf("an empty page is askew by %v", a)
	}
}

// TestAsScanned follows a mark on a page through every turn and back.
func TestAsScanned(t *testing.T) {
	const dpi = 100.0
	for _, turn := range []int{0, 90, 180, 270} {
		for _, angle := range []float64{0, 1.3, -4} {
			for _, at := range [][2]int{{200, 300}, {700, 150}, {420, 560}} {
				page := white(850, 1100)
				rule(page, at[0]-4, at[1]-4, at[0]+4, at[1]+4)
				straight := resample(quarter(page, turn), angle, 1)
				x, y := darkest(straight)
				k := 72 / dpi
				p := &ingest.Page{Width: float64(straight.Rect.Dx()) * k, Height: float64(straight.Rect.Dy()) * k, Scan: &ingest.Scan{Turn: turn, Skew: angle, DPI: dpi}}
				b := p.AsScanned(ingest.Box{X0: x * k, Y0: y * k, X1: x * k, Y1: y * k})
				if math.Abs(b.X0/k-float64(at[0])) > 0.6 || math.Abs(b.Y0/k-float64(at[1])) > 0.6 {
					t.Errorf("turned by %d and %v, the mark at %v comes back at %.1f, %.1f", turn, angle, at, b.X0/k, b.Y0/k)
				}
			}
		}
	}
}

func TestQuarter(t *testing.T) {
	g := white(5, 3)
	for i := range g.Pix {
		g.Pix[i] = uint8(i)
	}
	if got := quarter(quarter(quarter(quarter(g, 90), 90), 90), 90); !slices.Equal(got.Pix, g.Pix) {
		t.Error("four quarters are not the whole")
	}
	if got := quarter(quarter(g, 90), 270); !slices.Equal(got.Pix, g.Pix) {
		t.Error("90 and 270 don't undo each other")
	}
	if got := quarter(quarter(g, 90), 90); !slices.Equal(got.Pix, quarter(g, 180).Pix) {
		t.Error("two quarters are not a half")
	}
	if got := quarter(g, 90); got.Rect != image.Rect(0, 0, 3, 5) || got.GrayAt(2, 0).Y != 0 || got.GrayAt(0, 0).Y != 10 {
		t.Errorf("clockwise, the top left goes to the top right: %v", got.Pix)
	}
}

func TestFlatten(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	page := drawn(150, 2, text(rng, 20))
	rule(page, 300, 900, 900, 950) // a bar of solid ink
	flat := flatten(worn(page, rng, 4), 150)
	level := otsu(flat)
	wrong := 0
	for i, v := range flat.Pix {
		if (v > level) != (page.Pix[i] > 128) {
			wrong++
		}
	}
	if wrong > len(flat.Pix)/2000 {
		t.Errorf("%d of %d pixels are on the wrong side", wrong, len(flat.Pix))
	}
	mono := drawn(150, 2, text(rng, 20))
	if l := otsu(mono); l < 64 || l > 192 {
		t.Errorf("the level of a black and white picture is %d", l)
	}
	same := sauvola(flatten(worn(page, rng, 4), 150), 150)
	wrong = 0
	for i, v := range same.Pix {
		if x, y := i%same.Stride, i/same.Stride; x > 280 && x < 920 && y > 880 && y < 970 {
			continue // within ink alone there is no level to be found
		}
		if (v > 128) != (page.Pix[i] > 128) {
			wrong++
		}
	}
	if wrong > len(same.Pix)/500 {
		t.Errorf("black and white: %d of %d pixels are on the wrong side", wrong, len(same.Pix))
	}
}

// TestRules has a table's lines go and its figures stay, to the pixel where
// they don't touch.
func TestRules(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	page := drawn(200, 2, text(rng, 20))
	want := slices.Clone(page.Pix)
	for k := range 12 {
		rule(page, 150, 172+k*40, 1500, 175+k*40)
	}
	for k := range 3 {
		rule(page, 150+k*675, 150, 153+k*675, 700)
	}
	got := withoutRules(page, 200, 128)
	lost, left := 0, 0
	for i := range want {
		switch {
		case want[i] < 128 && got.Pix[i] > 128:
			lost++
		case want[i] > 128 && got.Pix[i] < 128:
			left++
		}
	}
	// Upright rules run through a few letters, which lose what lies under them.
	if lost > 300 || left > 60 {
		t.Errorf("%d pixels of letters are lost, and %d of rules are left", lost, left)
	}
	// A stroke that crosses a rule stays.
	cross := white(400, 200)
	rule(cross, 20, 100, 380, 102)
	rule(cross, 200, 80, 204, 125)
	got = withoutRules(cross, 200, 128)
	if got.GrayAt(202, 101).Y > 128 || got.GrayAt(202, 90).Y > 128 || got.GrayAt(100, 101).Y < 128 {
		t.Error("the stroke across a rule did not stay, or the rule did")
	}
	// An underscore, a dash and a letter are too short to be rules.
	short := white(400, 200)
	rule(short, 50, 50, 100, 53)
	if got := withoutRules(short, 200, 128); got.GrayAt(70, 51).Y > 128 {
		t.Error("a dash was taken for a rule")
	}
}

func TestSpecks(t *testing.T) {
	page := white(400, 200)
	put(page, "7.5", 50, 100, 3)
	rule(page, 300, 50, 302, 52)
	got := withoutSpecks(page, 300, 128, 9)
	if got.GrayAt(301, 51).Y < 128 {
		t.Error("a speck by itself stayed")
	}
	for i := range page.Pix {
		if x := i % page.Stride; x < 200 && page.Pix[i] != got.Pix[i] {
			t.Fatal("the point of a number was taken for a speck")
		}
	}
}

// TestPoints counts decimal points by their shape.
func TestPoints(t *testing.T) {
	for _, c := range []struct {
		drawn, read string
		fits        bool
	}{
		{"7.5", "7.5", true}, {"7.5", "75", false}, {"75", "7.5", false}, {"75", "75", true}, {"12.50", "12.50", true}, {"12.50", "1250", false},
		{"1.234.5", "1.234.5", true}, {"2,000,000", "2,000,000", true}, {"2,000,000", "2000000", false}, {"<0.5", "<0.5", true}, {"<0.5", "<05", false},
		{"6.8%", "6.8%", true}, {"6.8*", "68*", false}, {"8", "8", true}, {"6.2.", "6.2.", true}, {"ppm", "ppm", true}, {"pH", "p.H", true},
	} {
		for _, times := range []int{2, 3, 4} {
			page := white(40*times+7*times*len(c.drawn), 40*times)
			put(page, c.drawn, 10*times, 25*times, times)
			box := image.Rect(0, 0, 0, 0)
			for _, s := range spotsOf(page, 128, 0) {
				box = box.Union(image.Rect(s.x0, s.y0, s.x1+1, s.y1+1))
			}
			if got := pointsFit(c.read, box, page, 128); got != c.fits {
				n, known := points(page, box, 128)
				t.Errorf("%q read for %q, %d times as large: fits is %v (%d points, %v)", c.read, c.drawn, times, got, n, known)
			}
		}
	}
	if n, known := points(white(50, 50), image.Rect(5, 5, 45, 45), 128); n != 0 || known {
		t.Error("an empty box has points")
	}
	if _, known := points(white(50, 50), image.Rect(100, 100, 200, 200), 128); known {
		t.Error("a box off the page has points")
	}
}

func TestPGM(t *testing.T) {
	g := white(7, 5)
	g.Pix[9] = 3
	got, ok := parsePGM(pgm(g))
	if !ok || !slices.Equal(got.Pix, g.Pix) || got.Rect != g.Rect {
		t.Error("a picture did not come back")
	}
	for _, bad := range []string{"", "P5\n", "P5\n2 2\n255\nabc", "P5\n2 2\n255\nabcde", "P5\n-2 -2\n255\nabcd", "P5\n99999999 99999999\n255\n", "P6\n2 2\n255\nabcd"} {
		if _, ok := parsePGM([]byte(bad)); ok {
			t.Errorf("%q was taken for a picture", bad)
		}
	}
}
