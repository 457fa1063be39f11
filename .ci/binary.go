//go:build ignore

// Binary writes the list of what is in the program: see the script of the same name beside it.
package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
)

const (
	program = "./cmd/throughline"
	guide   = "DEVELOPERS.md"
	reasons = ".ci/binary.txt" // what each module that we require is for, one a line
	begin   = "<!-- what is in the binary: written by .ci/binary -->"
	end     = "<!-- end of what is in the binary -->"
)

// module is one of Go's, as `go list` has it.
type module struct {
	Path, Version, Dir, GoVersion string
	Main, Indirect                bool
	Replace                       *module
}

// pkg is a package with what it imports.
type pkg struct {
	ImportPath string
	Imports    []string
	Standard   bool
	Module     *module
}

func main() {
	check := flag.Bool("check", false, "change nothing, and fail where the guide says otherwise")
	flag.Parse()
	if err := run(*check); err != nil {
		fmt.Fprintln(os.Stderr, "what is in the binary:", err)
		os.Exit(1)
	}
}

func run(check bool) error {
	table, err := describe()
	if err != nil {
		return err
	}
	said, err := os.ReadFile(guide)
	if err != nil {
		return err
	}
	before, rest, ok := strings.Cut(string(said), begin)
	was, after, ended := strings.Cut(rest, end)
	if !ok || !ended {
		return fmt.Errorf("%s lacks the lines %q and %q, between which the list stands", guide, begin, end)
	}
	is := "\n\n" + table + "\n"
	if was == is {
		return nil
	}
	if check {
		return fmt.Errorf("%s says otherwise; run .ci/binary and read the difference:\n%s", guide, difference(was, is))
	}
	return os.WriteFile(guide, []byte(before+begin+is+end+after), 0o644)
}

// difference lists the lines that only one of two texts has.
func difference(was, is string) string {
	a, b := strings.Split(was, "\n"), strings.Split(is, "\n")
	var all []string
	for _, line := range a {
		if !slices.Contains(b, line) {
			all = append(all, "- "+line)
		}
	}
	for _, line := range b {
		if !slices.Contains(a, line) {
			all = append(all, "+ "+line)
		}
	}
	return strings.Join(all, "\n")
}

func describe() (string, error) {
	required, err := requirements()
	if err != nil {
		return "", err
	}
	purposes, err := purposes(required)
	if err != nil {
		return "", err
	}
	linked, err := packages("-deps", program)
	if err != nil {
		return "", err
	}
	inside := modulesOf(linked)
	built, err := builtInto()
	if err != nil {
		return "", err
	}
	if listed := slices.Sorted(maps.Keys(inside)); !slices.Equal(listed, built) {
		return "", fmt.Errorf("go list finds the modules %v, and the program has %v", listed, built)
	}
	var problems []error
	var b strings.Builder
	b.WriteString("| Module | Version | Licence | What for |\n| --- | --- | --- | --- |\n")
	row := func(m module, what string) {
		name, err := licence(m.Dir)
		if err != nil {
			problems = append(problems, fmt.Errorf("%s: %w", m.Path, err))
		}
		fmt.Fprintf(&b, "| `%s` | %s | %s | %s |\n", m.Path, m.Version, name, what)
	}
	goroot, err := output("go", "env", "GOROOT", "GOVERSION")
	if err != nil {
		return "", err
	}
	root, _, _ := strings.Cut(goroot, "\n")
	standard, err := licence(root)
	if err != nil {
		problems = append(problems, fmt.Errorf("Go: %w", err))
	}
	fmt.Fprintf(&b, "| Go's own library | as built | %s | the language |\n", standard)
	for _, path := range built {
		if r, direct := required[path]; direct && !r.Indirect {
			row(inside[path], purposes[path])
		}
	}
	direct := func(path string) bool { return !required[path].Indirect && required[path].Path != "" }
	for _, path := range built {
		if !direct(path) {
			row(inside[path], "for "+strings.Join(through(linked, path, direct), ", "))
		}
	}
	b.WriteString("\nRequired beside these, and in no program that is shipped: ")
	tested, err := packages("-deps", "-test", "./...", "tool")
	if err != nil {
		return "", err
	}
	beside := modulesOf(tested)
	var apart []string
	for _, path := range slices.Sorted(maps.Keys(required)) {
		if !direct(path) && !strings.HasPrefix(purposes[path], "tool: ") || inside[path].Path != "" {
			continue
		}
		if beside[path].Path == "" {
			problems = append(problems, fmt.Errorf("%s is required, and neither the program nor a test nor a tool uses it", path))
		}
		name, err := licence(beside[path].Dir)
		if err != nil {
			problems = append(problems, fmt.Errorf("%s: %w", path, err))
		}
		apart = append(apart, fmt.Sprintf("`%s` (%s; %s)", path, name, strings.TrimPrefix(purposes[path], "tool: ")))
	}
	b.WriteString(strings.Join(apart, ", ") + ".\n")
	return b.String(), errors.Join(problems...)
}

// requirements are the modules that go.mod names.
func requirements() (map[string]module, error) {
	said, err := output("go", "mod", "edit", "-json")
	if err != nil {
		return nil, err
	}
	var file struct{ Require []module }
	if err := json.Unmarshal([]byte(said), &file); err != nil {
		return nil, err
	}
	all := map[string]module{}
	for _, m := range file.Require {
		all[m.Path] = m
	}
	return all, nil
}

// purposes reads what each module is for: every one that is required directly has a line, and every line is for one that is required.
func purposes(required map[string]module) (map[string]string, error) {
	said, err := os.ReadFile(reasons)
	if err != nil {
		return nil, err
	}
	all := map[string]string{}
	var problems []error
	for line := range strings.Lines(string(said)) {
		path, what, ok := strings.Cut(strings.TrimSpace(line), " ")
		if !ok {
			return nil, fmt.Errorf("%s: %q is not a module and what it is for", reasons, line)
		}
		if required[path].Path == "" {
			problems = append(problems, fmt.Errorf("%s has %s, which go.mod does not require", reasons, path))
		}
		all[path] = strings.TrimSpace(what)
	}
	for path, m := range required {
		if !m.Indirect && all[path] == "" {
			problems = append(problems, fmt.Errorf("%s lacks a line that says what %s is for", reasons, path))
		}
	}
	return all, errors.Join(problems...)
}

// packages lists packages as the shipped program is built: without cgo.
func packages(args ...string) (map[string]pkg, error) {
	said, err := output("go", append([]string{"list", "-json=ImportPath,Imports,Standard,Module"}, args...)...)
	if err != nil {
		return nil, err
	}
	all := map[string]pkg{}
	d := json.NewDecoder(strings.NewReader(said))
	for {
		var p pkg
		if err := d.Decode(&p); errors.Is(err, io.EOF) {
			return all, nil
		} else if err != nil {
			return nil, err
		}
		all[p.ImportPath] = p
	}
}

// modulesOf are the modules that packages are from, but our own.
func modulesOf(all map[string]pkg) map[string]module {
	found := map[string]module{}
	for _, p := range all {
		if p.Module != nil && !p.Module.Main {
			found[p.Module.Path] = *p.Module
		}
	}
	return found
}

// builtInto reads the modules out of the built program itself.
func builtInto() ([]string, error) {
	folder, err := os.MkdirTemp("", "binary")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(folder)
	file := filepath.Join(folder, "throughline")
	if _, err := output("go", "build", "-o", file, program); err != nil {
		return nil, err
	}
	said, err := output("go", "version", "-m", file)
	if err != nil {
		return nil, err
	}
	var all []string
	for line := range strings.Lines(said) {
		if f := strings.Fields(line); len(f) >= 3 && f[0] == "dep" {
			all = append(all, f[1])
		}
	}
	slices.Sort(all)
	return all, nil
}

// through returns the modules that we require which bring another one in: those that reach it without passing through one that we require.
func through(all map[string]pkg, path string, direct func(string) bool) []string {
	found := map[string]bool{}
	for _, p := range all {
		if p.Module == nil || !direct(p.Module.Path) {
			continue
		}
		seen := map[string]bool{}
		var walk func(name string) bool
		walk = func(name string) bool {
			if seen[name] {
				return false
			}
			seen[name] = true
			for _, next := range all[name].Imports {
				m := all[next].Module
				if m == nil || m.Path != p.Module.Path && direct(m.Path) {
					continue
				}
				if m.Path == path || walk(next) {
					return true
				}
			}
			return false
		}
		if walk(p.ImportPath) {
			found[filepath.Base(strings.TrimSuffix(regexp.MustCompile(`/v\d+$`).ReplaceAllString(p.Module.Path, ""), "/"))] = true
		}
	}
	return slices.Sorted(maps.Keys(found))
}

// licences are known by words that stand in them and in no other, here without capitals and commas.
var licences = []struct {
	name        string
	has, hasNot string
	no          bool // it asks more of who ships a program than this one gives
}{
	{"AGPL", "gnu affero general public license", "mozilla public license", true}, // which names these in its text
	{"LGPL", "gnu lesser general public license", "mozilla public license", true},
	{"GPL", "gnu general public license", "mozilla public license", true},
	{"Apache-2.0", "apache license version 2.0", "", false},
	{"MPL-2.0", "mozilla public license version 2.0", "", false},
	{"MIT", "permission is hereby granted free of charge to any person obtaining", "", false},
	{"BSD-3-Clause", "neither the name", "apache license version 2.0", false},
	{"BSD-2-Clause", "redistribution and use in source and binary forms", "neither the name", false},
	{"ISC", "permission to use copy modify and/or distribute this software for any purpose with or without fee", "", false},
	{"public domain", "anyone is free to copy modify publish use compile sell or distribute the original sqlite code", "", false},
	{"Unlicense", "this is free and unencumbered software released into the public domain", "", false},
}

// noLicence are files that are named like one: a list of what a module's own tests use besides, and the source of a picture.
var noLicence = []string{"LICENSE-3RD-PARTY.md", "LICENSE-LOGO"}

var licenceFile = regexp.MustCompile(`(?i)^(licen[cs]e|copying|unlicense)`)

// licence recognises the licences of the files in a module's folder.
func licence(folder string) (string, error) {
	if folder == "" {
		return "", errors.New("its source is not here: run go mod download")
	}
	files, err := os.ReadDir(folder)
	if err != nil {
		return "", err
	}
	found := map[string]bool{}
	for _, f := range files {
		if f.IsDir() || !licenceFile.MatchString(f.Name()) || slices.Contains(noLicence, f.Name()) {
			continue
		}
		raw, err := os.ReadFile(filepath.Join(folder, f.Name()))
		if err != nil {
			return "", err
		}
		words := strings.ToLower(strings.Join(strings.Fields(strings.ReplaceAll(string(raw), ",", "")), " "))
		known := false
		for _, l := range licences {
			if !strings.Contains(words, l.has) || l.hasNot != "" && strings.Contains(words, l.hasNot) {
				continue
			}
			if l.no {
				return "", fmt.Errorf("%s is under the %s", f.Name(), l.name)
			}
			known, found[l.name] = true, true
		}
		if !known {
			return "", fmt.Errorf("the licence in %s is not one that is known here", f.Name())
		}
	}
	if len(found) == 0 {
		return "", errors.New("has no file with a licence")
	}
	return strings.Join(slices.Sorted(maps.Keys(found)), ", "), nil
}

func output(name string, args ...string) (string, error) {
	c := exec.Command(name, args...)
	c.Env = append(os.Environ(), "CGO_ENABLED=0")
	var complaint bytes.Buffer
	c.Stderr = &complaint
	out, err := c.Output()
	if err != nil {
		return "", fmt.Errorf("%s %s: %w\n%s", name, strings.Join(args, " "), err, &complaint)
	}
	return string(out), nil
}
