package pages

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"io/fs"
	"maps"
	"mime"
	"net/http"
	"path"
	"slices"
	"strings"
	"time"

	"throughline/reports/paper"
)

//go:embed static
var staticFiles embed.FS

// StaticPath is what the addresses of style sheets and pictures begin with.
const StaticPath = "/static/"

// asset is one file that is the same for everybody. Its address has a digest of its content: a browser may keep it for
// good, and never shows a new page in an old style.
type asset struct {
	content []byte
	address string
}

// assets returns the embedded files and the papers' style sheet, by name.
func assets() map[string]asset {
	all := map[string]asset{}
	add := func(name string, content []byte) {
		all[name] = asset{content, StaticPath + digest(content) + "/" + name}
	}
	add("paper.css", []byte(paper.Style()))
	entries, _ := fs.ReadDir(staticFiles, "static") // embedded, so that it is there
	for _, e := range entries {
		if e.IsDir() {
			addTogether(all, e.Name())
			continue
		}
		content, _ := staticFiles.ReadFile("static/" + e.Name())
		add(e.Name(), content)
	}
	return all
}

// addTogether adds the files of a folder under one digest of them all: modules import one another by their names.
func addTogether(all map[string]asset, folder string) {
	entries, _ := fs.ReadDir(staticFiles, "static/"+folder)
	contents, together := map[string][]byte{}, []byte{}
	for _, e := range entries {
		content, _ := staticFiles.ReadFile("static/" + folder + "/" + e.Name())
		contents[folder+"/"+e.Name()], together = content, append(together, content...)
	}
	for name, content := range contents {
		all[name] = asset{content, StaticPath + digest(together) + "/" + name}
	}
}

func digest(content []byte) string {
	sum := sha256.Sum256(content)
	return hex.EncodeToString(sum[:6])
}

// staticNames are the names of all files, in order.
func (p *Pages) staticNames() []string { return slices.Sorted(maps.Keys(p.static)) }

// address returns where a page finds a file.
func (p *Pages) address(name string) string { return p.static[name].address }

// Static serves the files.
func (p *Pages) Static() http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		_, name, _ := strings.Cut(strings.TrimPrefix(r.URL.Path, StaticPath), "/")
		a, ok := p.static[name]
		if !ok || a.address != r.URL.Path {
			p.Fail(w, r, http.StatusNotFound, nil)
			return
		}
		w.Header().Set("Content-Type", mime.TypeByExtension(path.Ext(name)))
		w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
		http.ServeContent(w, r, name, time.Time{}, bytes.NewReader(a.content))
	})
}
