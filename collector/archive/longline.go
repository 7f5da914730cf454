package archive

import (
	"bytes"
	"fmt"
	"io"
)

// longestLine is more than a line of a recording with thousands of channels takes, bytes. Longer is no
// recording, and is refused before it fills the memory.
const longestLine = 1 << 20

// lineReader passes on what it reads until a line is too long.
type lineReader struct {
	r    io.Reader
	name string
	line int
	n    int // bytes of the present line
}

func (l *lineReader) Read(p []byte) (int, error) {
	n, err := l.r.Read(p)
	rest := p[:n]
	for {
		i := bytes.IndexByte(rest, '\n')
		if i < 0 {
			l.n += len(rest)
			break
		}
		l.line, l.n, rest = l.line+1, 0, rest[i+1:]
	}
	if l.n > longestLine {
		return n, &RecordingError{l.name, l.line + 1, 1, fmt.Sprintf("the line is longer than %d bytes; this is no recording", longestLine)}
	}
	return n, err
}
