package printers

import (
	"fmt"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// Open gives the sender for a printer. It touches neither the network nor a disk: an error says what is wrong with the
// address and what it should look like.
func Open(way Way, to string) (Sender, error) {
	if !slices.Contains([]Way{WayRaw, WayIPP, WayDevice, WaySpool}, way) {
		return nil, fmt.Errorf("a printer cannot be reached by %q: use one of %s, %s, %s, %s", way, WayRaw, WayIPP, WayDevice, WaySpool)
	}
	if to == "" {
		return nil, fmt.Errorf("the printer has no address: %s", example(way))
	}
	if strings.ContainsFunc(to, func(r rune) bool { return r <= ' ' && way != WaySpool && way != WayDevice || r < ' ' || r == 0x7F }) {
		return nil, fmt.Errorf("printer address %q holds a space or a control character: %s", to, example(way))
	}
	switch way {
	case WayRaw:
		return openRaw(to)
	case WayIPP:
		return openIPP(to)
	}
	if !filepath.IsAbs(to) || filepath.Clean(to) != strings.TrimSuffix(to, "/") {
		return nil, fmt.Errorf("printer address %q is not a whole path: %s", to, example(way))
	}
	if way == WayDevice {
		return &device{path: to}, nil
	}
	return &spool{folder: to, create: os.OpenFile}, nil
}

// example shows what an address looks like.
func example(way Way) string {
	switch way {
	case WayRaw:
		return "it is written 192.0.2.20:9100"
	case WayIPP:
		return "it is written ipp://192.0.2.20:631/ipp/print"
	case WayDevice:
		return "it is written /dev/usb/lp0"
	}
	return "it is a folder, written from / on"
}

func openRaw(to string) (Sender, error) {
	host, port, err := net.SplitHostPort(to)
	if err != nil || host == "" {
		return nil, fmt.Errorf("printer address %q is not a host and a port: %s", to, example(WayRaw))
	}
	if _, err := portNumber(port); err != nil {
		return nil, fmt.Errorf("printer address %q: %w: most label printers listen at 9100", to, err)
	}
	if strings.ContainsAny(host, "/@?#") {
		return nil, fmt.Errorf("printer address %q is not a host and a port: %s", to, example(WayRaw))
	}
	return &raw{address: to}, nil
}

func portNumber(port string) (int, error) {
	n, err := strconv.ParseUint(port, 10, 16)
	if err != nil || n == 0 {
		return 0, fmt.Errorf("%q is no port", port)
	}
	return int(n), nil
}
