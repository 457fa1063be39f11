package main

import (
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"strings"
	"syscall"

	"throughline/models/store"
)

// inOurWords returns the text of an error, with what the operating system says about a file or a connection, and what
// the database's driver says, in our own words. It also returns that error if our words only say that something
// failed, for the log.
func inOurWords(err error) (text string, unknown error) {
	text = err.Error()
	said, words, known := "", "", false
	var path *fs.PathError
	var link *os.LinkError
	var dial *net.OpError
	said, words, known = store.InOurWords(err)
	switch {
	case said != "": // before the system's, which a failed connection has in it
	case errors.As(err, &path):
		said = path.Error()
		words, known = aboutFile(path.Path, path.Err)
	case errors.As(err, &link):
		said = link.Error()
		words, known = aboutFile(link.New, link.Err)
	case errors.As(err, &dial):
		said = dial.Error()
		words, known = aboutAddress(dial)
	default:
		return text, nil
	}
	text = strings.ReplaceAll(text, said, words)
	if !known {
		return text, err
	}
	return text, nil
}

// aboutFile says what is wrong with a file or folder and what to do. It returns false if the cause is not a known one.
func aboutFile(name string, err error) (words string, known bool) {
	for _, c := range []struct {
		cause error
		words string
	}{
		{syscall.ENOTDIR, "part of the path %s is a file, not a folder; check the path"},
		{syscall.EISDIR, "%s is a folder; name a file"},
		{syscall.ENOSPC, "no room is left on the disk for %s; free some space and try again"},
		{syscall.EROFS, "the disk of %s is read-only; choose a folder on another disk"},
		{fs.ErrExist, "the file %s exists already; name a new file"},
		{fs.ErrNotExist, "no file or folder %s; check the path"},
		{fs.ErrPermission, "no permission to use %s; ask its owner for access, or choose another place"},
	} {
		if errors.Is(err, c.cause) {
			return fmt.Sprintf(c.words, name), true
		}
	}
	return fmt.Sprintf("the system could not use %s; the log says why", name), false
}

// aboutAddress says what is wrong with a connection or a port and what to do. It returns false if the cause is not a
// known one.
func aboutAddress(e *net.OpError) (words string, known bool) {
	at := "the address"
	if e.Addr != nil {
		at = e.Addr.String()
	}
	for _, c := range []struct {
		cause error
		words string
	}{
		{syscall.EADDRINUSE, "another program is using port %s; stop it or choose another port"},
		{syscall.EADDRNOTAVAIL, "this computer has no address %s; use one of its own, such as 127.0.0.1"},
		{syscall.EACCES, "no permission to use port %s; choose a port above 1023"},
		{syscall.ECONNREFUSED, "nothing answers at %s; start the server there, or correct the address"},
	} {
		if errors.Is(e, c.cause) {
			return fmt.Sprintf(c.words, at), true
		}
	}
	return fmt.Sprintf("the system could not use %s; the log says why", at), false
}
