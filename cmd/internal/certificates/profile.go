package certificates

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/xml"
	"fmt"
)

// Profile is the authority's certificate as a configuration profile, the form in which phones and tablets of one maker take
// one. Its identifiers come from the certificate, so that the same authority never stands there twice. From memory of the
// maker's published format (payload type com.apple.security.root); not tried on such a phone.
func (a *Authority) Profile() []byte {
	der := a.pair.Certificate[0]
	var name bytes.Buffer
	_ = xml.EscapeText(&name, []byte(a.Name())) // a buffer takes everything
	var out bytes.Buffer
	fmt.Fprintf(&out, `<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE plist PUBLIC "-//Apple//DTD PLIST 1.0//EN" "http://www.apple.com/DTDs/PropertyList-1.0.dtd">
<plist version="1.0">
<dict>
	<key>PayloadContent</key>
	<array>
		<dict>
			<key>PayloadCertificateFileName</key><string>pottrail.crt</string>
			<key>PayloadContent</key><data>%[1]s</data>
			<key>PayloadDisplayName</key><string>%[2]s</string>
			<key>PayloadDescription</key><string>Lets this device check that it talks to Pottrail</string>
			<key>PayloadIdentifier</key><string>pottrail.authority.%[3]s</string>
			<key>PayloadType</key><string>com.apple.security.root</string>
			<key>PayloadUUID</key><string>%[3]s</string>
			<key>PayloadVersion</key><integer>1</integer>
		</dict>
	</array>
	<key>PayloadDisplayName</key><string>%[2]s</string>
	<key>PayloadIdentifier</key><string>pottrail.profile.%[4]s</string>
	<key>PayloadType</key><string>Configuration</string>
	<key>PayloadUUID</key><string>%[4]s</string>
	<key>PayloadVersion</key><integer>1</integer>
</dict>
</plist>
`, base64.StdEncoding.EncodeToString(der), name.String(), identifier("authority", der), identifier("profile", der))
	return out.Bytes()
}

// identifier is a UUID made of a hash (RFC 9562, version 8).
func identifier(what string, der []byte) string {
	sum := sha256.Sum256(append([]byte(what+"\n"), der...))
	sum[6], sum[8] = sum[6]&0x0f|0x80, sum[8]&0x3f|0x80
	return fmt.Sprintf("%X-%X-%X-%X-%X", sum[:4], sum[4:6], sum[6:8], sum[8:10], sum[10:16])
}
