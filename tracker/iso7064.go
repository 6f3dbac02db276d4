package tracker

const alphabet36 = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"

// CheckCharacter is the ISO/IEC 7064 MOD 37,36 check character (a hybrid system: modulus 36 + 1 and 36) over text of
// digits and capitals. Other characters count as 0; callers have refused them before.
//
// Source: ISO/IEC 7064:2003, hybrid recursive method; examples in testdata/iso7064.tsv.
func CheckCharacter(text string) byte {
	const m = 36
	p := m
	for i := range len(text) {
		x := (p + value36(text[i])) % m
		if x == 0 {
			x = m
		}
		p = 2 * x % (m + 1)
	}
	return alphabet36[(m+1-p)%m]
}

func value36(c byte) int {
	switch {
	case isDigit(c):
		return int(c - '0')
	case isCapital(c):
		return int(c-'A') + 10
	}
	return 0
}
