// Package providertest starts an OpenID provider for tests, as a process of its
// own: the one that a library for providers, certified by the OpenID Foundation,
// brings as its example. It is not ours, and knows nothing of us.
//
// Enters: an address to which people are sent back. Leaves: the provider's own
// address; it ends with the test. Never: it is part of the program, or is asked
// for anything outside this computer.
package providertest

import (
	"encoding/json"
	"fmt"
	"html"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/zitadel/oidc/v3/example/server/exampleop"
	"github.com/zitadel/oidc/v3/example/server/storage"
)

// asProvider in the environment makes a test binary the provider.
const asProvider = "BE_THE_PROVIDER"

// Client and Secret are what the desk is registered with there; OpenClient is a
// desk without a secret.
const (
	Client     = "desk"
	Secret     = "shared secret"
	OpenClient = "open-desk"
)

// Password is that of everybody whom the provider knows.
const Password = "verysecure"

// people are those whom the provider knows.
var people = map[string]*storage.User{
	"id-rolf":  {ID: "id-rolf", Username: "rolf", Password: Password, FirstName: "Rolf", LastName: "Tansy", Email: "Rolf@office.example", EmailVerified: true},
	"id-mail":  {ID: "id-mail", Username: "mail", Password: Password, FirstName: "A", LastName: "B", Email: "rolf@office.example"}, // says that it is rolf's
	"id-ada":   {ID: "id-ada", Username: "ada", Password: Password, FirstName: "researcher", LastName: "Quill"},
	"id-other": {ID: "id-other", Username: "other", Password: Password, FirstName: "office", LastName: "Finch", Email: "other@office.example", EmailVerified: true},
	"id-gone":  {ID: "id-gone", Username: "gone", Password: Password, FirstName: "steward", LastName: "Y", Email: "gone@office.example", EmailVerified: true},
	"id-taken": {ID: "id-taken", Username: "taken", Password: Password, FirstName: "boss", LastName: "Z", Email: "ada@office.example", EmailVerified: true},
}

// Child is the provider, in a process that [Start] began. It is called first in
// TestMain, with the exit code where the process is one.
func Child() (code int, is bool) {
	port := os.Getenv(asProvider)
	if port == "" {
		return 0, false
	}
	fmt.Fprintln(os.Stderr, be(port, os.Getenv("PROVIDER_USERS"), os.Getenv("PROVIDER_RETURN")))
	return 1, true
}

func be(port, users, back string) error {
	storage.RegisterClients(storage.WebClient(Client, Secret, back), storage.NativeClient(OpenClient, back))
	store, err := storage.StoreFromFile(users)
	if err != nil {
		return err
	}
	srv := &http.Server{Addr: "127.0.0.1:" + port, ReadHeaderTimeout: time.Second, Handler: exampleop.SetupServer("http://localhost:"+port+"/", storage.NewStorage(store), slog.New(slog.DiscardHandler), false)}
	return srv.ListenAndServe()
}

// FreePort is a port of this computer that nobody used a moment ago.
func FreePort(t *testing.T) string {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = ln.Close() }() // for who asked
	_, port, _ := net.SplitHostPort(ln.Addr().String())
	return port
}

// Start starts the provider, which sends people back to an address.
func Start(t *testing.T, back string) (issuer string) {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	b, err := json.Marshal(people)
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "people.json")
	if err := os.WriteFile(file, b, 0o600); err != nil {
		t.Fatal(err)
	}
	port := FreePort(t)
	cmd := exec.Command(self)
	cmd.Env = append(os.Environ(), asProvider+"="+port, "PROVIDER_USERS="+file, "PROVIDER_RETURN="+back)
	cmd.Stderr = os.Stderr
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
	})
	issuer = "http://localhost:" + port + "/"
	for end := time.Now().Add(30 * time.Second); ; time.Sleep(50 * time.Millisecond) {
		resp, err := http.Get(issuer + ".well-known/openid-configuration")
		if err == nil {
			resp.Body.Close()
			if resp.StatusCode == http.StatusOK {
				return issuer
			}
		}
		if time.Now().After(end) {
			t.Fatalf("the provider does not answer: %v", err)
		}
	}
}

// Fetch asks for a page and gives its code, its text and where it is in the end;
// with a form it sends that.
func Fetch(t *testing.T, c *http.Client, method, at string, form url.Values) (int, string, *url.URL) {
	t.Helper()
	var body io.Reader
	if form != nil {
		body = strings.NewReader(form.Encode())
	}
	req, err := http.NewRequest(method, at, body)
	if err != nil {
		t.Fatal(err)
	}
	if form != nil {
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	resp, err := c.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	b, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return resp.StatusCode, string(b), resp.Request.URL
}

var hiddenID = regexp.MustCompile(`name="id" value="([^"]*)"`)

// SignIn goes to an address that leads to the provider, and signs in there as a
// person would; it gives the page to which that leads.
func SignIn(t *testing.T, c *http.Client, begin, user string) (int, string, *url.URL) {
	t.Helper()
	_, page, at := Fetch(t, c, http.MethodGet, begin, nil)
	m := hiddenID.FindStringSubmatch(page)
	if m == nil {
		t.Fatalf("no form of the provider at %s:\n%s", at, page)
	}
	return Fetch(t, c, http.MethodPost, at.Scheme+"://"+at.Host+at.Path, url.Values{"username": {user}, "password": {Password}, "id": {html.UnescapeString(m[1])}})
}
