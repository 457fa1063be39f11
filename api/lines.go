package api

import (
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"sync"
	"time"
)

// lines counts the open connections of each address, and closes those that are too many. http.Server reports when a
// connection opens and ends, keeps the connection itself, and closes it quietly.
type lines struct {
	most    int // 0: any number
	spared  func(netip.Addr) bool
	metrics *metrics

	mu    sync.Mutex
	held  map[net.Conn][]netip.Prefix // those that are counted
	count map[netip.Prefix]int
}

// changed is http.Server.ConnState.
func (l *lines) changed(conn net.Conn, state http.ConnState) {
	switch state {
	case http.StateNew:
		if !l.enter(conn) {
			l.metrics.refused.Inc()
			turnAway(conn)
		}
	case http.StateClosed, http.StateHijacked:
		l.leave(conn)
	}
}

// enter counts a connection, unless its address has as many as it may.
func (l *lines) enter(conn net.Conn) bool {
	at, err := netip.ParseAddrPort(conn.RemoteAddr().String())
	if err != nil || l.most <= 0 || l.spared(at.Addr()) { // a socket in the file system has no address
		return true
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	all := blocks(at.Addr().Unmap())
	for _, block := range all {
		if l.count[block] >= l.most {
			return false
		}
	}
	for _, block := range all {
		l.count[block]++
	}
	l.held[conn] = all
	return true
}

func (l *lines) leave(conn net.Conn) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, block := range l.held[conn] {
		if l.count[block]--; l.count[block] == 0 {
			delete(l.count, block)
		}
	}
	delete(l.held, conn)
}

// turnAway says why on a new connection, as far as that goes without waiting, and closes it.
func turnAway(conn net.Conn) {
	const why = "too many connections from this address\n"
	_ = conn.SetWriteDeadline(time.Now().Add(time.Second)) // a new connection has room for so little: nothing waits
	_, _ = fmt.Fprintf(conn, "HTTP/1.1 503 Service Unavailable\r\nRetry-After: %s\r\nConnection: close\r\n"+
		"Content-Type: text/plain; charset=utf-8\r\nContent-Length: %d\r\n\r\n%s", retryAfter, len(why), why)
	_ = conn.Close()
}
