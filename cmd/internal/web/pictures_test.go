package web_test

import (
	"bytes"
	"context"
	"flag"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

var remake = flag.Bool("pictures", false, "make the pictures of README.md anew")

// pictures is where the pictures of README.md are.
const pictures = "../../../testdata/pictures"

// mostPicture is how many bytes a picture may have.
const mostPicture = 120 << 10

// shots are the pictures that README.md shows, of the demonstration's pages.
var shots = []struct {
	name, says string
	high       int64
	path       func(t *testing.T, v *visitor) string
	ready      string
}{
	{"today.webp", "Waiting for a person", 880, func(*testing.T, *visitor) string { return "/" }, `document.querySelector(".days") !== null`},
	{"held.webp", "What was read", 940, func(t *testing.T, v *visitor) string {
		return first(t, v.get("/reports?q=TG-26-01920", http.StatusOK), "/report/") + "/look#h-page"
	}, `[...document.images].every(i => i.complete && i.naturalWidth > 0) && document.querySelectorAll("rect.k").length > 10`},
	{"lineage.webp", "Where each value comes from", 620, func(t *testing.T, v *visitor) string {
		return v.d.sampleOf(t, v, "TG-26-01402") + "#r-5"
	}, `document.querySelector("#r-5").open`},
}

// sampleOf is the page of the first sample of a report.
func (d *openDesk) sampleOf(t *testing.T, v *visitor, q string) string {
	t.Helper()
	return first(t, v.get(first(t, v.get("/reports?q="+q, http.StatusOK), "/report/"), http.StatusOK), "/sample/")
}

// README.md shows the three pictures that this test makes (-args -pictures, as
// make pictures has it), and they are small.
func TestPicturesOfTheReadme(t *testing.T) {
	readme, err := os.ReadFile("../../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	if *remake {
		makePictures(t)
	}
	there, err := filepath.Glob(filepath.Join(pictures, "*"))
	if err != nil || len(there) != len(shots) {
		t.Errorf("%q are there, want %d: %v", there, len(shots), err)
	}
	for _, s := range shots {
		b, err := os.ReadFile(filepath.Join(pictures, s.name))
		switch {
		case err != nil:
			t.Errorf("%v: make pictures makes it", err)
		case len(b) > mostPicture || len(b) < 4<<10:
			t.Errorf("%s has %d bytes, want at most %d", s.name, len(b), mostPicture)
		case !bytes.HasPrefix(b, []byte("RIFF")) || string(b[8:12]) != "WEBP":
			t.Errorf("%s is no WebP", s.name)
		}
		if !regexp.MustCompile(`!\[[^\]]{20,}\]\(testdata/pictures/` + s.name + `\)`).Match(readme) {
			t.Errorf("README.md does not show %s, or does not say what is on it", s.name)
		}
	}
}

func makePictures(t *testing.T) {
	d := sharedDesk(t)
	p, v := sitDown(t, d), visit(t, d)
	if err := os.MkdirAll(pictures, 0o755); err != nil {
		t.Fatal(err)
	}
	for _, s := range shots {
		p.do(chromedp.EmulateViewport(widths[0], s.high))
		p.open(s.path(t, v))
		p.until("the page is there", `document.body.innerText.includes("`+s.says+`") && `+s.ready)
		quality := int64(72)
		b, err := chromedp.Run(p.ctx, chromedp.Action[[]byte](func(ctx context.Context, at *chromedp.Target) ([]byte, error) {
			r, err := cdp.Call(ctx, at, page.CaptureScreenshot, page.CaptureScreenshotParams{Format: page.CaptureScreenshotFormatWebp, Quality: &quality})
			return r.Data, err
		}))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(pictures, s.name), b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}
