package archive

import (
	"errors"

	"luted/analysis"
)

func decodeSegment(data []byte) ([]analysis.Scan, error) { return nil, errors.New("not yet") }
