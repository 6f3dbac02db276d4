package wire_test

import (
	"bytes"
	"encoding/binary"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/labels/wire"
	"github.com/pottrail/pottrail/labels/wire/wiretest"
)

// TestReadersNotice: each fault that an encoder could have, made in a good job, is refused or gives another picture. Without
// this, a test that reads back would show nothing.
func TestReadersNotice(t *testing.T) {
	change := func(from, to string) func([]byte) []byte {
		return func(body []byte) []byte { return bytes.Replace(body, []byte(from), []byte(to), 1) }
	}
	number := func(at int, value uint32) func([]byte) []byte {
		return func(body []byte) []byte {
			binary.BigEndian.PutUint32(body[4+at:], value)
			return body
		}
	}
	end := func(n int) func([]byte) []byte { return func(body []byte) []byte { return body[:len(body)-n] } }
	for _, test := range []struct {
		language wire.Language
		what     string
		fault    func([]byte) []byte
	}{
		{wire.ZPL, "1 is white", change("010230000000FFFFF0", "FEFDCFFFFFFF00000F")},
		{wire.ZPL, "the rightmost dot first", change("010230", "80400C")},
		{wire.ZPL, "padding is black", change("FFFFF0", "FFFFFF")},
		{wire.ZPL, "rows run on", change("010230000000FFFFF0", "01023000000FFFFF00")},
		{wire.ZPL, "one byte too many announced", change("GFA,9,9", "GFA,10,10")},
		{wire.ZPL, "two lengths that differ", change("GFA,9,9", "GFA,9,8")},
		{wire.ZPL, "small digits", change("FFFFF0", "fffff0")},
		{wire.ZPL, "two copies", change("^PQ1", "^PQ2")},
		{wire.ZPL, "another width", change("^PW20", "^PW21")},
		{wire.ZPL, "another length", change("^LL3", "^LL4")},
		{wire.ZPL, "no end", end(3)},
		{wire.EPL, "1 is black", change("\xfe\xfd\xcf\xff\xff\xff\x00\x00\x0f", "\x01\x02\x30\x00\x00\x00\xff\xff\xf0")},
		{wire.EPL, "padding is black", change("\x00\x00\x0f", "\x00\x00\x00")},
		{wire.EPL, "one row too many announced", change(",3,3,", ",3,4,")},
		{wire.EPL, "no line's end before", change("\nN", "N")},
		{wire.EPL, "nine copies", change("P1", "P9")},
		{wire.EPL, "another length", change("Q3", "Q5")},
		{wire.TSPL, "1 is black", change("\xfe\xfd\xcf\xff\xff\xff\x00\x00\x0f", "\x01\x02\x30\x00\x00\x00\xff\xff\xf0")},
		{wire.TSPL, "padding is black", change("\x00\x00\x0f", "\x00\x00\x00")},
		{wire.TSPL, "a line's end of one character", change("CLS\r\n", "CLS\n")},
		{wire.TSPL, "an overlay", change(",3,3,0,", ",3,3,1,")},
		{wire.TSPL, "nine copies", change("PRINT 1,1", "PRINT 1,9")},
		{wire.ESCPOS, "the high byte first", change("\x03\x00\x03\x00", "\x00\x03\x00\x03")},
		{wire.ESCPOS, "double width", change("v0\x00", "v0\x01")},
		{wire.ESCPOS, "0 is black", change("\x01\x02\x30\x00\x00\x00\xff\xff\xf0", "\xfe\xfd\xcf\xff\xff\xff\x00\x00\x0f")},
		{wire.ESCPOS, "not cut off", end(4)},
		{wire.PWG, "another sync word", change("RaS2", "RaS3")},
		{wire.PWG, "the low byte first", number(372, 20<<24)},
		{wire.PWG, "two copies", number(340, 2)},
		{wire.PWG, "two pages", number(452, 2)},
		{wire.PWG, "eight bits a dot", number(388, 8)},
		{wire.PWG, "white is 1", number(400, 18)},
		{wire.PWG, "another line", number(392, 4)},
		{wire.PWG, "one line too few", number(376, 4)},
		{wire.PWG, "one line too many", number(376, 2)},
		{wire.PWG, "a packet less", end(2)},
		{wire.PWG, "a packet too long", func(body []byte) []byte { body[len(body)-2]++; return body }},
		{wire.PWG, "count 128", func(body []byte) []byte { body[len(body)-2] = 128; return body }},
		{wire.PNG, "cut short", end(1)},
		{wire.PNG, "a byte changed", func(body []byte) []byte { body[len(body)-18] ^= 1; return body }},
		{wire.PDF, "cut short", end(1)},
		{wire.PDF, "another size", change("/Width 20", "/Width 21")},
		{wire.PDF, "a script", change("/Type /Catalog", "/Type /Catalog\n/OpenAction <</S /JavaScript>> stream")},
	} {
		good, err := wire.Encode(test.language, small(), wire.Setup{GapMM: 3, Created: created})
		require.NoError(t, err)
		bad := test.fault(bytes.Clone(good))
		require.NotEqual(t, good, bad, "%s in %s is a change", test.what, test.language)
		job, err := wiretest.Read(test.language, bad)
		if err == nil {
			err = job.Same(small())
		}
		require.Error(t, err, "%s in %s", test.what, test.language)
	}
	// Any byte of a label-printer language's job that is changed is noticed, and any that is lost.
	for _, l := range []wire.Language{wire.ZPL, wire.ESCPOS} {
		good, err := wire.Encode(l, small(), wire.Setup{})
		require.NoError(t, err)
		for i := range good {
			for bit := range 8 {
				bad := bytes.Clone(good)
				bad[i] ^= 1 << bit
				job, err := wiretest.Read(l, bad)
				if err == nil {
					err = job.Same(small())
				}
				require.Errorf(t, err, "bit %d of byte %d in %s", bit, i, l)
			}
			lost, err := wiretest.Read(l, append(bytes.Clone(good[:i]), good[i+1:]...))
			if err == nil {
				err = lost.Same(small())
			}
			require.Errorf(t, err, "byte %d of %s lost", i, l)
		}
	}
	_, err := wiretest.Read("morse", []byte("..."))
	require.True(t, err != nil && strings.Contains(err.Error(), "morse"))
}
