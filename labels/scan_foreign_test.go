package labels_test

import (
	"fmt"
	"log/slog"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"github.com/pottrail/pottrail/labels"
	"github.com/pottrail/pottrail/testdata/published"
)

// TestWhatOtherLabelsAre: the numbers are made up, but for those in TestPublishedCheckDigits and the table of NHS numbers;
// check digits are by the same rules. GS1 keeps the numbers that begin with 952 for examples (from memory).
func TestWhatOtherLabelsAre(t *testing.T) {
	for text, want := range map[string]struct {
		sort      labels.Sort
		symbology string
	}{
		// The patient's wristband, in the forms that houses use.
		"8018952123400000000017":                         {labels.SortWristband, ""},
		"]C18018952123400000000017":                      {labels.SortWristband, "GS1-128"},
		"]d2\x1d8018952123400000000017\x1d80191":         {labels.SortWristband, "GS1 DataMatrix"},
		"801895212340000000001780191":                    {labels.SortWristband, ""},
		"(8018)952123400000000017(8019)1":                {labels.SortWristband, ""},
		"(01)06291041500213(8018)952123400000000017":     {labels.SortWristband, ""}, // a patient's number goes before all else
		"https://id.example.org/8018/952123400000000017": {labels.SortWristband, ""},
		"+/EMB004417":                       {labels.SortWristband, ""},
		"40118223":                          {labels.SortNumber, ""},
		"]C040118223\r":                     {labels.SortNumber, "Code 128"},
		"004 118 223":                       {labels.SortNumber, ""},
		"1961-02-14":                        {labels.SortNumber, ""},
		"9434765919":                        {labels.SortPatient, ""},
		"]A0943 476 5919":                   {labels.SortPatient, "Code 39"},
		"9434765918":                        {labels.SortNumber, ""},
		"Halvorsen":                         {labels.SortWords, ""},
		"]Q1HALVORSEN^INGRID^^^MRS":         {labels.SortWords, "QR Code"},
		"]z3Halvorsen, Ingrid|1961-02-14|F": {labels.SortWords, "Aztec Code"},
		"Ευαγγελία Παπαδοπούλου": {labels.SortWords, ""},
		"MRN12345678":                                      {labels.SortOther, ""},
		"]L2{\"mrn\":40118223,\"dob\":19610214}":           {labels.SortOther, "PDF417"},
		"P<UTOHALVORSEN<<INGRID<<<<<<<<<<<<<<<<<<<<<<<<<<": {labels.SortIdentity, ""},
		"]L0@\n\x1e\rANSI 636000090002DL":                  {labels.SortIdentity, "PDF417"},
		// People who give care.
		"(8017)952123400000000024":  {labels.SortStaff, ""},
		"]C18017952123400000000024": {labels.SortStaff, "GS1-128"},
		// Boxes, lots, pots of medium, needles.
		"]E06291041500213":                     {labels.SortProduct, "EAN or UPC"},
		"]E496385074":                          {labels.SortProduct, "EAN or UPC"},
		"6291041500213":                        {labels.SortProduct, ""},
		"036000291452":                         {labels.SortProduct, ""},
		"9780306406157":                        {labels.SortProduct, ""},
		"0106291041500213":                     {labels.SortProduct, ""},
		"010629104150021310AB12":               {labels.SortProduct, ""},
		"01062910415002131727013110AB12\x1d21": {labels.SortProduct, ""},
		"(01)06291041500213(10)AB12":           {labels.SortProduct, ""},
		"(01) 06291041500213 (17) 270131":      {labels.SortProduct, ""},
		"(10)AB12":                             {labels.SortProduct, ""},
		"]C110AB12":                            {labels.SortProduct, "GS1-128"},
		"]d2010629104150021310AB12":            {labels.SortProduct, "GS1 DataMatrix"},
		"https://id.example.org/01/06291041500213/10/AB12": {labels.SortProduct, ""},
		"+A99912345678901/$$5270131AB12":                   {labels.SortProduct, ""},
		"6291041500214":                                    {labels.SortNumber, ""}, // no right check digit
		"96385074":                                         {labels.SortNumber, ""}, // eight digits: as well a record number
		"(01)06291041500214":                               {labels.SortNumber, ""},
		"]d20106291041500214":                              {labels.SortOther, "GS1 DataMatrix"},
		// Parcels, places, equipment, blood, another laboratory.
		"(00)376104250021234569": {labels.SortShipment, ""},
		"00376104250021234569":   {labels.SortShipment, ""},
		"[)>\x1e06\x1d1P123":     {labels.SortShipment, ""},
		"(414)9521234000013":     {labels.SortLocation, ""},
		"(8004)9521234A17":       {labels.SortAsset, ""},
		"=A99992601234560I":      {labels.SortBlood, ""},
		"]C0=%5100":              {labels.SortBlood, "Code 128"},
		"&>0260312359":           {labels.SortBlood, ""},
		"S14-9999":               {labels.SortAccession, ""},
		"14-9999S":               {labels.SortAccession, ""},
		"]A014S-9999":            {labels.SortAccession, "Code 39"},
		// For telephones.
		"https://example.org/p/40118223":              {labels.SortWeb, ""},
		"]Q1HTTP://EXAMPLE.ORG/?MRN=4":                {labels.SortWeb, "QR Code"},
		"www.example.org":                             {labels.SortWeb, ""},
		"app://open/4":                                {labels.SortWeb, ""},
		"BEGIN:VCARD\r\nN:Halvorsen":                  {labels.SortContact, ""},
		"MECARD:N:Halvorsen,Ingrid;;":                 {labels.SortContact, ""},
		"ingrid.halvorsen@example.org":                {labels.SortContact, ""},
		"tel:+441632960000":                           {labels.SortContact, ""},
		"WIFI:T:WPA;S:ward;P:canary;;":                {labels.SortSecret, ""},
		"otpauth://totp/x?secret=canary":              {labels.SortSecret, ""},
		"\xff\xfe\xfd\xfc":                            {labels.SortOther, ""},
		"]]]]":                                        {labels.SortOther, ""},
		"\x1d]C010AB12":                               {labels.SortProduct, "Code 128"}, // FNC1 comes before the prefix
		"https://id.example.org/01/6291041500213":     {labels.SortWeb, ""},             // thirteen digits are no GTIN there
		"https://id.example.org/8004/17":              {labels.SortWeb, ""},
		"(100)5":                                      {labels.SortNumber, ""}, // no identifier of GS1's begins another
		"(01":                                         {labels.SortNumber, ""},
		"003761042500212345691":                       {labels.SortNumber, ""}, // one digit too many
		"Q|||||":                                      {labels.SortOther, ""},
		"ingrid@" + strings.Repeat("x", 243) + ".org": {labels.SortContact, ""},
		"ingrid@" + strings.Repeat("x", 244) + ".org": {labels.SortWords, ""}, // longer than an address can be
		"MBY_@^_))$!&":                                {labels.SortOther, ""}, // a name typed with shift held: nothing shows that it was one
		"]?0Halvorsen":                                {labels.SortWords, ""}, // no code character
		strings.Repeat("Halvorsen ", 200):             {labels.SortWords, ""},
	} {
		t.Run(fmt.Sprintf("%.40q", text), func(t *testing.T) {
			_, err := labels.Read(text)
			var strange *labels.ForeignError
			require.ErrorAs(t, err, &strange)
			require.ErrorIs(t, err, labels.ErrScan)
			require.Equal(t, want.sort.String(), strange.Sort.String(), err)
			require.Equal(t, want.symbology, strange.Symbology)
			require.NotContains(t, err.Error(), strings.TrimSpace(text))
		})
	}
}

// TestTheSentencesAboutForeignLabels: what it is, and what to do. The patient's wristband is spoken of wherever it may be.
func TestTheSentencesAboutForeignLabels(t *testing.T) {
	for text, says := range map[string]string{
		"]C040118223": "this is not one of our labels but a bare number (Code 128). It may be the patient's wristband: " +
			"use it to check who the patient is, not to record a step",
		"8018952123400000000017": "this is not one of our labels but a patient's wristband. Use it to check who the patient is, not to record a step",
		"]d20106291041500213": "this is not one of our labels but a product's code, as on a box or a pot of medium (GS1 DataMatrix). " +
			"Enter the lot that is printed beside it where the step asks for the lot",
	} {
		_, err := labels.Read(text)
		require.EqualError(t, err, says)
	}
	seen := map[string]bool{}
	for s := labels.SortOther; s <= labels.SortIdentity; s++ {
		says := (&labels.ForeignError{Sort: s}).Error()
		require.Contains(t, says, "this is not one of our labels")
		require.NotEmpty(t, s.String())
		require.Falsef(t, seen[s.String()] || seen[says], "%s", s)
		seen[s.String()], seen[says] = true, true
		switch s {
		case labels.SortOther, labels.SortNumber, labels.SortWords, labels.SortPatient, labels.SortWristband:
			require.Contains(t, says, "patient's wristband")
			require.Contains(t, says, "se it to check who the patient is, not to record a step")
		}
	}
	require.Equal(t, labels.SortOther.String(), labels.Sort(200).String())
	require.Equal(t, (&labels.ForeignError{}).Error(), (&labels.ForeignError{Sort: 200}).Error())
}

// TestNothingOfAForeignLabelIsRepeated: names and numbers of one patient, in the ways in which wristbands are written. Not
// three characters in a row of any stand in the error, however it is printed.
func TestNothingOfAForeignLabelIsRepeated(t *testing.T) {
	canaries := []string{"Qvistgaard", "XANTHIPPE", "40718223", "9434765919", "1961-02-14", "19610214"}
	tried := 0
	for _, prefix := range []string{"", "]C0", "]C1", "]Q1", "]d1", "]d2", "]A0", "]z0", "]L0", "\x02", "(8018)", "=", "+/", "https://", "MECARD:N:", "WIFI:S:", "P<"} {
		for _, one := range canaries {
			for _, other := range canaries {
				for _, between := range []string{"", "^", "|", " ", "\x1d", "\t", ", ", ";"} {
					text := prefix + one + between + other + "\r"
					_, err := labels.Read(text)
					require.Errorf(t, err, "%q", text)
					tried++
					said := strings.ToLower(err.Error() + fmt.Sprintf("%+v", err) + slog.AnyValue(err).String())
					for _, canary := range []string{one, other} {
						for i := range len(canary) - 3 {
							require.NotContainsf(t, said, strings.ToLower(canary[i:i+4]), "%q", text)
						}
					}
				}
			}
		}
	}
	t.Logf("%d foreign texts, none repeated", tried)
}

// TestPublishedNHSNumbers: testdata/published/nhs-numbers.tsv, the algorithm of the NHS Data Dictionary.
func TestPublishedNHSNumbers(t *testing.T) {
	for _, r := range published.Table(t, "nhs-numbers.tsv") {
		_, err := labels.Read(r.Text("number"))
		var strange *labels.ForeignError
		require.ErrorAs(t, err, &strange, "%s", r)
		want := labels.SortNumber
		if r.Text("fits") == "yes" {
			want = labels.SortPatient
		}
		require.Equal(t, want, strange.Sort, "%s", r)
	}
}

// TestForeignNumbersAreNeverOurs: no text of digits alone, and none with a sign of another system, is ever taken.
func TestForeignNumbersAreNeverOurs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`(\][A-Za-z][0-9])?(\(01\)|8018|=A|https://)?[0-9]{1,30}`).Draw(t, "text")
		_, err := labels.Read(text)
		require.Error(t, err)
		if digits := strings.TrimLeft(text, "0123456789"); digits == "" {
			require.ErrorIs(t, err, labels.ErrScan)
		}
	})
}
