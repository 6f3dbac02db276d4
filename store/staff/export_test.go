package staff

import (
	bolt "go.etcd.io/bbolt"
	"golang.org/x/crypto/argon2"
)

// Strangers counts the rows of wrong PINs of badges that nobody has.
func (f *File) Strangers() (n int) {
	_ = f.db.View(func(tx *bolt.Tx) error {
		n = tx.Bucket([]byte(inStrangers)).Stats().KeyN
		return nil
	})
	return n
}

// Spoil changes what is stored behind the file's back.
func (f *File) Spoil(fn func(tx *bolt.Tx) error) error { return f.db.Update(fn) }

// OpenSessions is how many sessions are open in memory.
func (f *File) OpenSessions() int {
	f.mu.RLock()
	defer f.mu.RUnlock()
	return len(f.open)
}

// Parsers are all that read what is stored, by the bucket; each gives what it read, to be written again.
var Parsers = map[string]func(raw []byte) (any, error){
	inStaff:    func(raw []byte) (any, error) { return parsePerson(raw) },
	inTries:    func(raw []byte) (any, error) { return parseTry(inTries, raw) },
	inStations: func(raw []byte) (any, error) { return parseStation(raw) },
	inLinks:    func(raw []byte) (any, error) { return parseLink(raw) },
	inSessions: func(raw []byte) (any, error) { return parseSession(raw) },
	inDoubts:   func(raw []byte) (any, error) { return parseDoubt(raw) },
}

// ParseHashed reads a hashed PIN and writes it again.
func ParseHashed(text string) (string, error) {
	h, err := parseHashed(text)
	return h.String(), err
}

// HashOf hashes a PIN, as text.
func HashOf(c Cost, pin string) string {
	h := hashed{cost: c, salt: make([]byte, saltSize)}
	h.hash = h.of(argon2.IDKey, pin)
	return h.String()
}

// Bound sets another bound of open sessions than that of a clinic.
func (f *File) Bound(open int) { f.most = open }

// CountHashes has each hashing of a PIN told, with its cost.
func (f *File) CountHashes(tell func(Cost)) {
	f.hashes.key = func(pin, salt []byte, time, memory uint32, lanes uint8, size uint32) []byte {
		tell(Cost{Memory: memory, Time: time, Lanes: lanes})
		return argon2.IDKey(pin, salt, time, memory, lanes, size)
	}
}
