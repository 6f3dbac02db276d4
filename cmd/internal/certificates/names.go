package certificates

import (
	"errors"
	"fmt"
	"net"
	"net/netip"
	"regexp"
	"slices"
	"strings"
)

// ErrName says that something is neither a host name nor an address.
var ErrName = errors.New("not a host name or an address")

// ErrNotPermitted says that the authority may not vouch for a name.
var ErrNotPermitted = errors.New("the local authority may not vouch for it")

// Names are what a server may be called: host names in small letters, and addresses.
type Names struct {
	DNS []string
	IP  []netip.Addr
}

// hostName is a host name in the letters that certificates have (RFC 1123, section 2.1), with no dot at its end.
var hostName = regexp.MustCompile(`^[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?(\.[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?)*$`)

// longestHostName is in letters. Source: RFC 1035, section 2.3.4, less the dot and the length that stand around it on the wire.
const longestHostName = 253

// thisMachine is what every certificate of the authority is for beside what was asked.
var thisMachine = Names{DNS: []string{"localhost"}, IP: []netip.Addr{netip.MustParseAddr("127.0.0.1"), netip.IPv6Loopback()}}

// private are the ranges of addresses that nobody on the internet has: what is local to a machine (RFC 6890), a link (RFC
// 3927, RFC 4291) or a site (RFC 1918, RFC 4193). An authority that may vouch for them need not be made anew, and trusted anew
// on every phone, when a router gives the machine another address.
var private = []netip.Prefix{
	netip.MustParsePrefix("10.0.0.0/8"), netip.MustParsePrefix("172.16.0.0/12"), netip.MustParsePrefix("192.168.0.0/16"),
	netip.MustParsePrefix("127.0.0.0/8"), netip.MustParsePrefix("169.254.0.0/16"),
	netip.MustParsePrefix("fc00::/7"), netip.MustParsePrefix("fe80::/10"), netip.MustParsePrefix("::1/128"),
}

// ParseNames reads host names and addresses, in capitals or not; each is kept once, in the order given. An error is an
// [ErrName] that names the first that is neither: a name with an underscore, a range, a web address, a number that looks like
// an address.
func ParseNames(texts []string) (Names, error) {
	var n Names
	for _, text := range texts {
		name := strings.ToLower(strings.TrimSpace(text))
		if ip, err := netip.ParseAddr(strings.Trim(name, "[]")); err == nil {
			if ip = ip.Unmap(); ip.Zone() != "" || ip.IsUnspecified() || ip.IsMulticast() {
				return Names{}, fmt.Errorf("%q: %w at which one machine can be reached", text, ErrName)
			}
			n.IP = appendOnce(n.IP, ip)
			continue
		}
		last := name[strings.LastIndexByte(name, '.')+1:]
		if len(name) > longestHostName || !hostName.MatchString(name) || strings.Trim(last, "0123456789") == "" {
			return Names{}, fmt.Errorf("%q: %w: write it as in station.clinic.example or 192.0.2.7", text, ErrName)
		}
		n.DNS = appendOnce(n.DNS, name)
	}
	return n, nil
}

func appendOnce[T comparable](list []T, x T) []T {
	if slices.Contains(list, x) {
		return list
	}
	return append(list, x)
}

// with are these names and others, each once.
func (n Names) with(more Names) Names {
	all := Names{slices.Clone(n.DNS), slices.Clone(n.IP)}
	for _, name := range more.DNS {
		all.DNS = appendOnce(all.DNS, name)
	}
	for _, ip := range more.IP {
		all.IP = appendOnce(all.IP, ip)
	}
	return all
}

// Strings are all names as text, host names first.
func (n Names) Strings() []string {
	out := slices.Clone(n.DNS)
	for _, ip := range n.IP {
		out = append(out, ip.String())
	}
	return out
}

// same reports whether these are the names of a certificate, in any order.
func (n Names) same(dns []string, ips []net.IP) bool {
	if len(n.DNS) != len(dns) || len(n.IP) != len(ips) {
		return false
	}
	for _, name := range n.DNS {
		if !slices.Contains(dns, name) {
			return false
		}
	}
	for _, ip := range n.IP {
		if !slices.ContainsFunc(ips, func(there net.IP) bool { return there.Equal(ip.AsSlice()) }) {
			return false
		}
	}
	return true
}
