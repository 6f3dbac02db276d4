package people_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/store/people"
	"github.com/pottrail/pottrail/testdata/published"
)

// TestNHSNumbers: testdata/published/nhs-numbers.tsv, the algorithm of the NHS Data Dictionary.
func TestNHSNumbers(t *testing.T) {
	for _, r := range published.Table(t, "nhs-numbers.tsv") {
		require.True(t, people.HasTenDigits(r.Text("number")), "%s", r)
		err := people.CheckNHSNumber(r.Text("number"))
		if r.Text("fits") == "yes" {
			require.NoError(t, err, "%s", r)
			continue
		}
		require.Equal(t, "no", r.Text("fits"), "%s", r)
		require.ErrorIs(t, err, people.ErrNHSCheck, "%s", r)
	}
	for _, number := range []string{"", " ", "943476591", "94347659190", "94347659I9", "943476591٩", "MBY 40118223"} {
		require.False(t, people.HasTenDigits(number), number)
		require.ErrorIs(t, people.CheckNHSNumber(number), people.ErrNHSLength, number)
	}
	require.NoError(t, people.CheckNHSNumber("９４３ ４７６ ５９１９"), "digits as wide as a letter of Chinese are digits")
}

// A slip of one digit, or of two neighbours, never passes: a weight and a modulus of 11 see to it.
func TestLawEverySlipInAnNHSNumberIsFound(t *testing.T) {
	valid := rapid.Custom(func(t *rapid.T) string {
		for {
			first := rapid.IntRange(100000000, 999999998).Draw(t, "first nine digits")
			for check := range 10 {
				if number := fmt.Sprintf("%09d%d", first, check); people.CheckNHSNumber(number) == nil {
					return number
				}
			}
		}
	})
	rapid.Check(t, func(t *rapid.T) {
		number := []byte(valid.Draw(t, "number"))
		i := rapid.IntRange(0, 9).Draw(t, "place")
		wrong := append([]byte(nil), number...)
		if wrong[i] = '0' + (number[i]-'0'+byte(rapid.IntRange(1, 9).Draw(t, "off by")))%10; rapid.Bool().Draw(t, "swapped") && i > 0 {
			wrong = append([]byte(nil), number...)
			wrong[i-1], wrong[i] = number[i], number[i-1]
		}
		if string(wrong) == string(number) {
			return // two neighbours alike
		}
		require.ErrorIs(t, people.CheckNHSNumber(string(wrong)), people.ErrNHSCheck, "%s for %s", wrong, number)
	})
}
