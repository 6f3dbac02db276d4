package daemon

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"github.com/pottrail/pottrail/cmd/internal/ask"
	"github.com/pottrail/pottrail/testdata/published"
	"github.com/pottrail/pottrail/tracker/protocol"
)

// protocolIn is the default protocol for a clinic of another region.
func protocolIn(t *testing.T, region string) *protocol.Protocol {
	t.Helper()
	text := strings.Replace(protocol.Default().Text, `region = "gb-england-wales"`, `region = "`+region+`"`, 1)
	p, err := protocol.Parse([]byte(text))
	require.NoError(t, err)
	return p
}

// TestAnNHSNumberWithASlipIsRefused: testdata/published/nhs-numbers.tsv, NHS Data Dictionary.
func TestAnNHSNumberWithASlipIsRefused(t *testing.T) {
	home, abroad := protocolIn(t, "gb-england-wales"), protocolIn(t, "us-federal")
	for _, r := range published.Table(t, "nhs-numbers.tsv") {
		number, fits := r.Text("number"), r.Text("fits") == "yes"
		for _, kind := range []string{"", ask.NationalNHS} {
			err := checkNational(number, kind, home)
			if fits {
				require.NoError(t, err, "%s", r)
				continue
			}
			var refused *ask.Error
			require.ErrorAs(t, err, &refused, "%s", r)
			require.Equal(t, ask.Invalid, refused.Kind)
			require.Equal(t, "patient.national_number", refused.Field)
			require.Contains(t, refused.Text, "the check digit does not fit: one digit may be wrong")
			require.NotContains(t, refused.Text, number, "an identifier is never in an error")
		}
		require.NoError(t, checkNational(number, ask.NationalOther, home), "%s: said to be another country's", r)
		require.NoError(t, checkNational(number, "", abroad), "%s: ten digits mean nothing there", r)
		require.Equal(t, fits, checkNational(number, ask.NationalNHS, abroad) == nil, "%s: said to be one", r)
	}
}

func TestNationalNumbersThatAreNoNHSNumbers(t *testing.T) {
	home := protocolIn(t, "gb-england-wales")
	for _, number := range []string{"", "943476591", "PL 84051112345", "MBY-40118223"} {
		require.NoError(t, checkNational(number, "", home), number)
	}
	require.NoError(t, checkNational("", ask.NationalNHS, home), "none is given, the record number will do")
	require.ErrorContains(t, checkNational("943476591", ask.NationalNHS, home), "ten digits")
	require.ErrorContains(t, checkNational("9434765919", "passport", home), "national_kind")
	for _, region := range []string{"gb-scotland", "gb-northern-ireland"} {
		require.Error(t, checkNational("9434765918", "", protocolIn(t, region)), region)
	}
}
