package main

import (
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"strings"
	"syscall"
	"testing"
)

func TestAnErrorOfTheSystemIsSaidInOurWords(t *testing.T) {
	file := func(cause error) error { return &fs.PathError{Op: "open", Path: "x/y.csv", Err: cause} }
	port := func(cause error) error {
		return &net.OpError{Op: "listen", Net: "tcp", Addr: &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 80},
			Err: os.NewSyscallError("bind", cause)}
	}
	for _, c := range []struct {
		err    error
		says   string
		logged bool
	}{
		{file(syscall.ENOENT), "read: no file or folder x/y.csv; check the path", false},
		{file(syscall.EACCES), "read: no permission to use x/y.csv; ask its owner", false},
		{file(syscall.EISDIR), "read: x/y.csv is a folder; name a file", false},
		{file(syscall.ENOTDIR), "read: part of the path x/y.csv is a file", false},
		{file(syscall.ENOSPC), "read: no room is left on the disk for x/y.csv; free", false},
		{file(syscall.EROFS), "read: the disk of x/y.csv is read-only; choose", false},
		{file(syscall.EEXIST), "read: the file x/y.csv exists already; name a new", false},
		{file(syscall.EIO), "read: the system could not use x/y.csv; the log says why", true},
		{&os.LinkError{Op: "rename", Old: "t", New: "x/y.csv", Err: syscall.EACCES},
			"read: no permission to use x/y.csv", false},
		{port(syscall.EADDRINUSE), "read: another program is using port 127.0.0.1:80; stop it or", false},
		{port(syscall.EACCES), "read: no permission to use port 127.0.0.1:80; choose a port above", false},
		{port(syscall.EADDRNOTAVAIL), "read: this computer has no address 127.0.0.1:80; use", false},
		{port(syscall.ECONNREFUSED), "read: nothing answers at 127.0.0.1:80; start", false},
		{port(syscall.EIO), "read: the system could not use 127.0.0.1:80; the log says why", true},
		{errors.New("no squad"), "read: no squad", false},
	} {
		text, unknown := inOurWords(fmt.Errorf("read: %w", c.err))
		if !strings.HasPrefix(text, c.says) || (unknown != nil) != c.logged {
			t.Errorf("%v: %q, for the log %v; want %q, for the log %v", c.err, text, unknown, c.says, c.logged)
		}
	}
}
