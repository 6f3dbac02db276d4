package labels

// symbologies names what a symbology identifier's code character stands for. Source: ISO/IEC 15424, from memory.
var symbologies = map[byte]string{
	'A': "Code 39",
	'B': "Telepen",
	'C': "Code 128",
	'D': "Code One",
	'E': "EAN or UPC",
	'F': "Codabar",
	'G': "Code 93",
	'H': "Code 11",
	'I': "Interleaved 2 of 5",
	'J': "DotCode",
	'K': "Code 16K",
	'L': "PDF417",
	'M': "MSI",
	'N': "Anker",
	'O': "Codablock",
	'P': "Plessey",
	'Q': "QR Code",
	'R': "2 of 5",
	'S': "2 of 5",
	'T': "Code 49",
	'U': "MaxiCode",
	'X': "another symbology",
	'Z': "not a bar code",
	'c': "Channel Code",
	'd': "Data Matrix",
	'e': "GS1 DataBar",
	'h': "Han Xin Code",
	'o': "printed type",
	'p': "PosiCode",
	's': "SuperCode",
	'z': "Aztec Code",
}

// gs1Modifiers are the identifiers that announce GS1's element strings: FNC1 in the first place. Source: GS1 General
// Specifications, symbology identifiers, from memory.
var gs1Modifiers = map[string]string{
	"]C1": "GS1-128",
	"]e0": "GS1 DataBar",
	"]e1": "GS1 DataBar",
	"]e2": "GS1 DataBar",
	"]d2": "GS1 DataMatrix",
	"]Q3": "GS1 QR Code",
	"]J1": "GS1 DotCode",
}

// symbology names the symbol by the scanner's prefix, "" when there is none or it is not known.
func (r reading) symbology() string {
	if r.prefix == "" {
		return ""
	}
	if name, ok := gs1Modifiers[r.prefix]; ok {
		return name
	}
	return symbologies[r.prefix[1]]
}

// announcesGS1 reports whether the scanner said that GS1's data follow.
func (r reading) announcesGS1() bool { return r.fnc1 || gs1Modifiers[r.prefix] != "" }
