package printers

import (
	"fmt"
	"regexp"
	"strings"
)

// mostBody bounds a label's bytes: a page of A4 at 24 dots a millimetre, one bit a dot, is 4.5 MB.
const mostBody = 64 << 20

var (
	tokenShape     = regexp.MustCompile(`^[A-Za-z0-9_-]{1,64}$`)
	extensionShape = regexp.MustCompile(`^[a-z0-9]{1,8}$`)
	mediaTypeShape = regexp.MustCompile(`^[a-z0-9][a-z0-9.+-]{0,63}/[a-z0-9][a-z0-9.+-]{0,63}$`)
)

// check refuses a job that no printer could be given: this is a fault of the program, and no later try would do.
func (j Job) check() error {
	switch {
	case !tokenShape.MatchString(j.Token):
		return refused("the job's token is not 1 to 64 plain letters and digits", nil)
	case !extensionShape.MatchString(j.Extension):
		return refused(fmt.Sprintf("%q is no ending of a file name", j.Extension), nil)
	case !mediaTypeShape.MatchString(strings.ToLower(j.MediaType)):
		return refused(fmt.Sprintf("%q is no media type", j.MediaType), nil)
	case len(j.Body) == 0:
		return refused("the label is empty", nil)
	case len(j.Body) > mostBody:
		return refused(fmt.Sprintf("the label has %d bytes, of at most %d", len(j.Body), mostBody), nil)
	case !(j.WidthMM >= 0 && j.WidthMM <= 1000 && j.HeightMM >= 0 && j.HeightMM <= 1000):
		return refused(fmt.Sprintf("a label of %g × %g mm cannot be", j.WidthMM, j.HeightMM), nil)
	}
	return nil
}
