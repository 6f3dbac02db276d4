package certificates

import (
	"crypto"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"net"
	"net/netip"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// Files of the authority's folder.
const (
	fileAuthority = "authority.pem" // certificate and key of the authority
	filePublic    = "authority.crt" // its certificate alone, to be given to whoever is to trust it
	fileServer    = "server.pem"    // certificate and key that are shown at handshakes
)

// How long certificates last. A phone is asked to trust the authority once, so it lasts; 396 days is what no system that we
// know of finds too long for a server. Source: the project's notes on faces, 2.4.
const (
	authorityYears = 10
	serverLife     = 396 * 24 * time.Hour
	// early is how long before its making a certificate counts, for phones whose clock is behind. Common practice, no source.
	early = time.Hour
)

// Authority is a small certificate authority whose key lies in a folder.
type Authority struct {
	dir  string
	pair *tls.Certificate
}

// OpenAuthority reads the authority of a folder, or makes one that can vouch for the names, for private addresses and for this
// machine. An error is an [ErrKeyMode], an [ErrCertificate] for one that is there and cannot be read (no other is made in its
// place, since no phone would trust that one), or of the disk.
func OpenAuthority(dir string, names Names, at time.Time) (*Authority, error) {
	a, err := ReadAuthority(dir)
	if err == nil || !errors.Is(err, fs.ErrNotExist) {
		return a, err
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("the folder of the local authority cannot be made: %w", err)
	}
	der, key, err := makeAuthority(names.with(thisMachine), at)
	if err != nil {
		return nil, err
	}
	data, err := both(der, key)
	if err != nil {
		return nil, err
	}
	if err := errors.Join(writeWhole(filepath.Join(dir, filePublic), public(der), 0o644), writeWhole(filepath.Join(dir, fileAuthority), data, 0o600)); err != nil {
		return nil, fmt.Errorf("the local authority cannot be kept: %w", err)
	}
	return ReadAuthority(dir)
}

// ReadAuthority reads the authority of a folder; [fs.ErrNotExist] when there is none.
func ReadAuthority(dir string) (*Authority, error) {
	path := filepath.Join(dir, fileAuthority)
	data, err := readFile(path, true)
	if err != nil {
		return nil, err
	}
	made, err := pair(data, data, path)
	if err != nil {
		return nil, err
	}
	if !made.Leaf.IsCA {
		return nil, fmt.Errorf("%w: %s is not the certificate of an authority", ErrCertificate, path)
	}
	return &Authority{dir, made}, nil
}

// makeAuthority makes a certificate that may vouch for these names and the private addresses and for no others.
func makeAuthority(names Names, at time.Time) (der []byte, key *ecdsa.PrivateKey, err error) {
	if key, err = ecdsa.GenerateKey(elliptic.P256(), rand.Reader); err != nil {
		return nil, nil, fmt.Errorf("no key can be made: %w", err)
	}
	template := &x509.Certificate{
		SerialNumber: serial(), Subject: pkix.Name{Organization: []string{"Pottrail"}, CommonName: "Pottrail local authority, " + names.Strings()[0]},
		NotBefore: at.Add(-early), NotAfter: at.AddDate(authorityYears, 0, 0),
		IsCA: true, BasicConstraintsValid: true, MaxPathLenZero: true,
		KeyUsage:                    x509.KeyUsageCertSign | x509.KeyUsageCRLSign,
		ExtKeyUsage:                 []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}, // neither mail nor programs can be signed with it
		PermittedDNSDomainsCritical: true,
		PermittedDNSDomains:         names.DNS, // never empty: an empty list would permit every name
	}
	for _, p := range permitted(names.IP) {
		template.PermittedIPRanges = append(template.PermittedIPRanges, &net.IPNet{IP: p.Addr().AsSlice(), Mask: net.CIDRMask(p.Bits(), p.Addr().BitLen())})
	}
	if der, err = x509.CreateCertificate(rand.Reader, template, template, key.Public(), key); err != nil {
		return nil, nil, fmt.Errorf("no authority can be made: %w", err)
	}
	return der, key, nil
}

// permitted are the private ranges, and each address that lies in none of them.
func permitted(ips []netip.Addr) []netip.Prefix {
	ranges := slices.Clone(private)
	for _, ip := range ips {
		if !slices.ContainsFunc(ranges, func(p netip.Prefix) bool { return p.Contains(ip) }) {
			ranges = append(ranges, netip.PrefixFrom(ip, ip.BitLen()))
		}
	}
	return ranges
}

// serial is a number that no other certificate has.
func serial() *big.Int {
	var bits [16]byte
	_, _ = rand.Read(bits[:]) // never fails; see its documentation
	bits[0] = bits[0]&0x7f | 0x40
	return new(big.Int).SetBytes(bits[:])
}

// permits says of the first name that the authority may not vouch for it; see [ErrNotPermitted].
func (a *Authority) permits(names Names) error {
	ca := a.pair.Leaf
	for _, name := range names.DNS {
		if !slices.ContainsFunc(ca.PermittedDNSDomains, func(d string) bool { return name == d || strings.HasSuffix(name, "."+d) }) {
			return a.notPermitted(name)
		}
	}
	for _, ip := range names.IP {
		if !slices.ContainsFunc(ca.PermittedIPRanges, func(r *net.IPNet) bool { return r.Contains(ip.AsSlice()) }) {
			return a.notPermitted(ip.String())
		}
	}
	return nil
}

func (a *Authority) notPermitted(name string) error {
	return fmt.Errorf("%s: %w, only for %s: leave the name out, or move the folder %s away for a new authority, which every phone must then be told to trust",
		name, ErrNotPermitted, strings.Join(a.Permitted(), ", "), a.dir)
}

// Permitted lists what the authority may vouch for, as host names and ranges of addresses.
func (a *Authority) Permitted() []string {
	out := slices.Clone(a.pair.Leaf.PermittedDNSDomains)
	for _, r := range a.pair.Leaf.PermittedIPRanges {
		out = append(out, r.String())
	}
	return out
}

// DER is the authority's certificate, which holds nothing secret.
func (a *Authority) DER() []byte { return slices.Clone(a.pair.Certificate[0]) }

// File is where the authority's certificate lies, without its key.
func (a *Authority) File() string { return filepath.Join(a.dir, filePublic) }

// Until is when the authority's own certificate ends.
func (a *Authority) Until() time.Time { return a.pair.Leaf.NotAfter }

// Name is what phones call the authority in their lists.
func (a *Authority) Name() string { return a.pair.Leaf.Subject.CommonName }

// issue makes a certificate for the names and keeps it, with its key, in the folder.
func (a *Authority) issue(names Names, at time.Time) (*tls.Certificate, error) {
	if err := a.permits(names); err != nil {
		return nil, err
	}
	if at.After(a.Until()) {
		return nil, fmt.Errorf("%w: the local authority ended on %s: move the folder %s away for a new one, which every phone must then be told to trust",
			ErrCertificate, a.Until().Format(time.DateOnly), a.dir)
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, fmt.Errorf("no key can be made: %w", err)
	}
	from := at.Add(-early)
	template := &x509.Certificate{
		SerialNumber: serial(), Subject: pkix.Name{Organization: []string{"Pottrail"}, CommonName: names.Strings()[0]},
		NotBefore: from, NotAfter: from.Add(serverLife), BasicConstraintsValid: true,
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}, DNSNames: names.DNS,
	}
	if template.NotAfter.After(a.Until()) {
		template.NotAfter = a.Until()
	}
	for _, ip := range names.IP {
		template.IPAddresses = append(template.IPAddresses, ip.AsSlice())
	}
	if len(template.Subject.CommonName) > 64 { // the most that X.509 has for it; nobody looks at it for the name
		template.Subject.CommonName = "Pottrail"
	}
	der, err := x509.CreateCertificate(rand.Reader, template, a.pair.Leaf, key.Public(), a.pair.PrivateKey.(crypto.Signer))
	if err != nil {
		return nil, fmt.Errorf("no certificate can be made: %w", err)
	}
	data, err := both(der, key)
	if err != nil {
		return nil, err
	}
	path := filepath.Join(a.dir, fileServer)
	if err := writeWhole(path, data, 0o600); err != nil {
		return nil, fmt.Errorf("a new certificate cannot be kept: %w", err)
	}
	return pair(data, data, path)
}

// renewal is when a certificate of the authority is to be made anew: after two thirds of its life. One that ends with its
// authority is the last.
func renewal(leaf, authority *x509.Certificate) time.Time {
	if !leaf.NotAfter.Before(authority.NotAfter) {
		return authority.NotAfter
	}
	return leaf.NotBefore.Add(leaf.NotAfter.Sub(leaf.NotBefore) / 3 * 2)
}
