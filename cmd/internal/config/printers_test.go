package config_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/labels/printers"
	"github.com/pottrail/pottrail/labels/wire"
	"github.com/pottrail/pottrail/tracker"
)

const twoRooms = `http = '127.0.0.1:1'

[printers.room-2]
way = "raw"
to = "192.0.2.20:9100"
language = "zpl"
dots_per_mm = 8
stock = ["pot-50x25", "bag-50x25"]
gap_mm = 3
stations = ["room-2", "prep"]

[printers.room-2-pieces]
way = "spool"
to = "/var/spool/pieces"
dots_per_mm = 24
stock = ["piece-22x15"]
stations = ["room-2"]

[printers.hatch]
way = "ipp"
to = "ipp://192.0.2.21:631/ipp/print"
dots_per_mm = 12
stock = ["request-50x25"]
`

func TestPrintersAreTablesOfTheFile(t *testing.T) {
	o, err := load(t, nil, write(t, twoRooms), env("HOME", "/home/x"))
	require.NoError(t, err)
	require.Len(t, o.Printers, 3)
	hatch, room, pieces := o.Printers[0], o.Printers[1], o.Printers[2]
	require.Equal(t, "hatch", hatch.Name)
	require.Equal(t, wire.PWG, hatch.Language, "every print server takes it")
	require.Equal(t, printers.WayRaw, room.Way)
	require.Equal(t, []string{"pot-50x25", "bag-50x25"}, room.StockNames())
	require.Equal(t, 3.0, room.GapMM)
	usual, ok := room.For(tracker.ThingBag)
	require.True(t, ok)
	require.Equal(t, "bag-50x25", usual.Name)
	_, ok = pieces.For(tracker.ThingPot)
	require.False(t, ok)
	require.True(t, pieces.Serves("room-2"))
	require.Equal(t, wire.PDF, pieces.Language)
	require.Empty(t, o.Warnings())

	var printed bytes.Buffer
	require.NoError(t, o.Print(&printed))
	again, err := load(t, nil, write(t, printed.String()), env("HOME", "/home/x"))
	require.NoError(t, err, printed.String())
	var twice bytes.Buffer
	require.NoError(t, again.Print(&twice))
	require.Equal(t, o.Printers[1].Stations, again.Printers[1].Stations)
	_, first, _ := strings.Cut(printed.String(), "\n[")
	_, second, _ := strings.Cut(twice.String(), "\n[")
	require.Equal(t, first, second)
}

func TestAPrinterWithTwoSizesIsWarnedOf(t *testing.T) {
	text := strings.Replace(twoRooms, `"bag-50x25"`, `"piece-22x15", "slide-24x24"`, 1)
	text = strings.Replace(text, `"room-2", "prep"`, `"prep"`, 1)
	o, err := load(t, nil, write(t, text), env("HOME", "/home/x"))
	require.NoError(t, err)
	require.Len(t, o.Warnings(), 1)
	require.Contains(t, o.Warnings()[0], "printer room-2: pot-50x25 and piece-22x15 are of different sizes")
}

func TestAPrinterThatCannotWorkIsRefusedWithTheReason(t *testing.T) {
	for name, c := range map[string]struct{ old, new, want string }{
		"a name with a space":        {"[printers.hatch]", `[printers."the hatch"]`, "its name may hold small letters, digits and hyphens"},
		"a name in capitals":         {"[printers.hatch]", "[printers.Hatch]", "its name may hold"},
		"an unknown key":             {"gap_mm = 3", "gap_inch = 3", `line 9: printer room-2: unknown key "gap_inch"`},
		"an unknown option":          {"http =", "htpp =", `line 1: unknown key "htpp"`},
		"an unknown way":             {`way = "raw"`, `way = "fax"`, `printer room-2: way "fax"`},
		"no way":                     {`way = "raw"`, ``, `printer room-2: way ""`},
		"nowhere":                    {`to = "192.0.2.20:9100"`, ``, "to: say where it is"},
		"raw without a language":     {`language = "zpl"`, ``, "language: say which it speaks, one of zpl, epl, tspl, escpos"},
		"an unknown language":        {`language = "zpl"`, `language = "latin"`, `printer language "latin" is unknown`},
		"a language of another way":  {`language = "zpl"`, `language = "png"`, "language png does not go by way raw"},
		"no dots":                    {"dots_per_mm = 8\n", "", "dots_per_mm = 0: give the print head's dots"},
		"dots an inch":               {"dots_per_mm = 8\n", "dots_per_mm = 203\n", "dots_per_mm = 203"},
		"dots in words":              {"dots_per_mm = 8\n", "dots_per_mm = \"eight\"\n", "line 7: dots_per_mm is a whole number: 203 dots an inch are 8"},
		"dots in part":               {"dots_per_mm = 8\n", "dots_per_mm = 11.8\n", "line 7: dots_per_mm is a whole number: 203 dots an inch are 8 a millimetre, 300 are mostly 12"},
		"stock that is no list":      {`stock = ["pot-50x25", "bag-50x25"]`, `stock = "pot-50x25"`, "stock is a list of words"},
		"a gap in words":             {"gap_mm = 3", `gap_mm = "3 mm"`, "gap_mm is a number"},
		"an address without marks":   {`to = "192.0.2.20:9100"`, `to = 9100`, "to is text in quotation marks"},
		"no stock":                   {`stock = ["pot-50x25", "bag-50x25"]`, ``, "stock: say which labels are in it"},
		"stock of no layout":         {`"bag-50x25"`, `"bag-5x2"`, `bag-5x2`},
		"stock twice":                {`"bag-50x25"`, `"pot-50x25"`, "stock: pot-50x25 is there twice"},
		"a gap as wide as a page":    {"gap_mm = 3", "gap_mm = 300", "gap_mm = 300"},
		"a gap that is none":         {"gap_mm = 3", "gap_mm = nan", "gap_mm = NaN"},
		"a gap its language lacks":   {"language = \"zpl\"\ndots_per_mm = 8\nstock = [\"pot-50x25\", \"bag-50x25\"]\ngap_mm = 3", "language = \"epl\"\ndots_per_mm = 12\nstock = [\"pot-50x25\", \"bag-50x25\"]\ngap_mm = 21", "language epl: "},
		"a station twice":            {`"room-2", "prep"`, `"prep", "prep"`, "stations: prep is there twice"},
		"a station without a name":   {`"room-2", "prep"`, `""`, "stations: one of them has no name"},
		"two for one label":          {`stock = ["piece-22x15"]`, `stock = ["pot-50.8x25.4"]`, "printers room-2 and room-2-pieces are both station room-2's for pot labels"},
		"printers that are no table": {"[printers.hatch]", "[printers]\nway = 'raw'\n[printers.hatch]", "line"},
	} {
		t.Run(name, func(t *testing.T) {
			require.Equal(t, 1, strings.Count(twoRooms, c.old), "the table of the test itself")
			_, err := load(t, nil, write(t, strings.Replace(twoRooms, c.old, c.new, 1)), env("HOME", "/home/x"))
			require.ErrorContains(t, err, c.want)
			require.ErrorContains(t, err, "pottrail.toml")
		})
	}
}
