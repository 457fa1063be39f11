package files

import (
	"bufio"
	"bytes"
	"compress/flate"
	"compress/gzip"
	"errors"
	"fmt"
	"io"

	"throughline/models"
)

// source is the text of a file as it comes in: unpacked when its content says that it is gzip-compressed, without a
// byte order mark, and never longer than the limit, however well it was compressed. It remembers what went wrong,
// because the CSV reader above it may report a line that was cut off instead of the reason why it was.
type source struct {
	text io.Reader
	err  error // the first error other than io.EOF
}

// gzipMark begins a gzip file: ID1 and ID2 (RFC 1952, 2.3.1).
const gzipMark = "\x1f\x8b"

var errTooLarge = errors.New("larger than the limit")

// open looks at the beginning of r and returns its text. The limit, in bytes, holds for what is read from r and for
// the text.
func open(r io.Reader, limit int64) (*source, error) {
	s := &source{}
	packed := bufio.NewReader(&capped{r: r, left: limit})
	text := packed
	if begins(packed, gzipMark) {
		unzip, err := gzip.NewReader(packed)
		if err != nil {
			s.err = err
			return nil, s.failure(limit)
		}
		text = bufio.NewReader(&capped{r: unzip, left: limit})
	}
	s.text = text
	switch {
	case begins(text, gzipMark): // what was packed is packed again
		return nil, models.Errorf(models.Invalid, "the file is compressed twice: unpack it once and send that")
	case begins(text, "PK\x03\x04"):
		return nil, models.Errorf(models.Invalid, "the file is a workbook or a zip archive: save the sheet as CSV in "+
			"UTF-8 and send that")
	case begins(text, "\xff\xfe"), begins(text, "\xfe\xff"):
		return nil, models.Errorf(models.Invalid, "the file is written in UTF-16: save it as CSV in UTF-8 and send that")
	case begins(text, "\xef\xbb\xbf"):
		_, _ = text.Discard(3) // cannot fail: the three bytes are in the buffer
	}
	if _, err := text.Peek(1); err != nil && err != io.EOF {
		s.err = err
		return nil, s.failure(limit)
	} else if err == io.EOF {
		return nil, models.Errorf(models.Invalid, "the file is empty: it begins with a line of column names")
	}
	return s, nil
}

// begins reports whether the reader's next bytes are the mark. An error is left for the next read.
func begins(r *bufio.Reader, mark string) bool {
	head, _ := r.Peek(len(mark))
	return bytes.Equal(head, []byte(mark))
}

func (s *source) Read(p []byte) (int, error) {
	if s.err != nil {
		return 0, s.err
	}
	n, err := s.text.Read(p)
	if err != nil && err != io.EOF {
		s.err = err
	}
	return n, err
}

// failure says in plain words why the text could not be read to its end; nil when it could.
func (s *source) failure(limit int64) error {
	var corrupt flate.CorruptInputError
	switch {
	case s.err == nil:
		return nil
	case errors.Is(s.err, errTooLarge):
		return models.Errorf(models.Invalid, "the file is larger than %s: split it, for example by squad", size(limit))
	case errors.Is(s.err, io.ErrUnexpectedEOF), errors.Is(s.err, io.EOF):
		return models.Errorf(models.Invalid, "the file is cut off before its end: send it again")
	case errors.Is(s.err, gzip.ErrChecksum), errors.Is(s.err, gzip.ErrHeader), errors.As(s.err, &corrupt):
		return models.Errorf(models.Invalid, "the compressed file is damaged: compress it again and send that")
	}
	return fmt.Errorf("read the file: %w", s.err)
}

func size(n int64) string {
	if n >= 1<<20 && n%(1<<20) == 0 {
		return fmt.Sprintf("%d MiB", n>>20)
	}
	return fmt.Sprintf("%d bytes", n)
}

// capped hands out at most left bytes and then fails, unlike io.LimitReader, which ends quietly and would pass off a
// part of a file as the whole. Once it has failed it goes on failing, because who looks ahead may pass over an error.
type capped struct {
	r    io.Reader
	left int64
	err  error
}

func (c *capped) Read(p []byte) (int, error) {
	if c.err != nil {
		return 0, c.err
	}
	if int64(len(p)) > c.left+1 {
		p = p[:c.left+1] // one more, to tell a file that just fits from one that does not
	}
	n, err := c.r.Read(p)
	if int64(n) > c.left {
		n, err = int(c.left), errTooLarge
	}
	c.left -= int64(n)
	c.err = err
	return n, err
}
