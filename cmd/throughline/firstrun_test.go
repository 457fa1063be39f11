package main_test

import (
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

func TestServeWritesASetupCodeForItsOwnerAloneUntilThereIsAnAcademy(t *testing.T) {
	folder := t.TempDir()
	file := filepath.Join(folder, "throughline-setup-code.txt")
	codes := map[string]bool{}
	for range 2 { // a restart says so again, with another code
		p := start(t, folder, "serve", "--addr", "127.0.0.1:0")
		p.until("setup code:")
		address := p.address()
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if info, err := os.Stat(file); err != nil || info.Mode().Perm() != 0o600 {
			t.Errorf("the file of the code: %v, %v; want it readable by its owner alone", info.Mode(), err)
		}
		code := strings.TrimSpace(string(text))
		codes[code] = true
		if len(codes) == 2 {
			status, body, _ := ask(t, "POST", "http://"+address+"/first-run", url.Values{"code": {code},
				"academy": {"Eastmoor"}, "name": {"Mabyn Orrell"}, "login": {"mabyn"}, "password": {"tawny-owl-29-fence"}})
			if status != http.StatusSeeOther {
				t.Errorf("the code of the file: %d %s", status, body)
			}
			if _, err := os.Stat(file); !os.IsNotExist(err) {
				t.Errorf("the file of the used code: %v; want it gone", err)
			}
		}
		p.signal(syscall.SIGTERM)
		if got := p.end(); got.code != 0 || !strings.Contains(got.out, code) {
			t.Errorf("exit %d; want the code printed: %s", got.code, got.out)
		}
	}
	if len(codes) != 2 {
		t.Errorf("%d codes of two starts; want each its own", len(codes))
	}
	p := start(t, folder, "serve", "--addr", "127.0.0.1:0")
	p.address()
	p.signal(syscall.SIGTERM)
	if got := p.end(); strings.Contains(got.out, "setup code") {
		t.Errorf("serving an academy still offers a code: %s", got.out)
	}
}

func TestTheDemoIsRefusedAtAPublicAddress(t *testing.T) {
	for _, args := range []string{"--addr 0.0.0.0:0", "--public-url https://academy.example --addr 127.0.0.1:0"} {
		got := run(t, append([]string{"demo"}, strings.Fields(args)...)...)
		if got.code != 2 || !strings.Contains(got.err, "only to this machine") {
			t.Errorf("demo %s: exit %d: %s; want refused before anything is made", args, got.code, got.err)
		}
	}
	folder := t.TempDir()
	if got := runIn(t, folder, "academy", "add", "Ostrel Vale Rugby Academy"); got.code != 0 {
		t.Fatal(got.err)
	}
	for _, args := range []string{"--addr 0.0.0.0:0", "--public-url https://academy.example --addr 127.0.0.1:0"} {
		got := runIn(t, folder, append([]string{"serve"}, strings.Fields(args)...)...)
		if got.code != 2 || !strings.Contains(got.err, "only to this machine") {
			t.Errorf("serve %s of the demo's academy: exit %d: %s; want refused", args, got.code, got.err)
		}
	}
}
