package access

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"golang.org/x/crypto/argon2"
	"golang.org/x/text/unicode/norm"
)

// A Cost is what it takes to try one password with Argon2id.
type Cost struct {
	Time    uint32 // passes over the memory
	Memory  uint32 // KiB
	Threads uint8
}

// Standard is the second choice that RFC 9106, section 4, recommends, for where
// memory is scarce: 3 passes over 64 MiB in 4 lanes. It is above the least that
// the OWASP Password Storage Cheat Sheet asks for (19 MiB, 2 passes, 1 lane).
var Standard = Cost{Time: 3, Memory: 64 << 10, Threads: 4}

// Sizes in bytes, both of RFC 9106, section 4.
const (
	saltSize = 16
	hashSize = 32
)

// The most that a line of the list of users may ask for: it is worked out at
// each attempt to sign in.
var mostCost = Cost{Time: 64, Memory: 1 << 20, Threads: 64}

// errHash is any text that is no hash of Argon2id in the form of PHC strings.
var errHash = errors.New("not a hash of Argon2id")

// Hash makes what is kept of a password: a PHC string with the cost, a salt of
// its own and the tag.
func (c Cost) Hash(password string) (string, error) {
	salt := make([]byte, saltSize)
	if _, err := rand.Read(salt); err != nil {
		return "", err
	}
	h := phc{c, salt, nil}
	h.tag = h.of(password, hashSize)
	return h.String(), nil
}

// Matches reports whether a hash is that of a password. It takes the same time
// whether it is or not.
func Matches(hash, password string) bool {
	h, err := parseHash(hash)
	if err != nil {
		return false
	}
	return subtle.ConstantTimeCompare(h.of(password, len(h.tag)), h.tag) == 1
}

// A phc is a hash in parts; see the PHC string format.
type phc struct {
	cost      Cost
	salt, tag []byte
}

// of works out the tag of a password. The password is put into Unicode's form
// NFC first, so that one keyboard's é is another's.
func (h phc) of(password string, size int) []byte {
	return argon2.IDKey(norm.NFC.Bytes([]byte(password)), h.salt, h.cost.Time, h.cost.Memory, h.cost.Threads, uint32(size))
}

// String writes the parts.
func (h phc) String() string {
	e := base64.RawStdEncoding
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, h.cost.Memory, h.cost.Time, h.cost.Threads, e.EncodeToString(h.salt), e.EncodeToString(h.tag))
}

// parseHash takes a PHC string apart. It refuses every other form than the one
// that String writes, and costs that are no cost or too high.
func parseHash(s string) (phc, error) {
	parts := strings.Split(s, "$")
	if len(parts) != 6 || parts[0] != "" || parts[1] != "argon2id" || parts[2] != "v="+strconv.Itoa(argon2.Version) {
		return phc{}, errHash
	}
	n := [3]uint32{}
	costs := strings.Split(parts[3], ",")
	if len(costs) != len(n) {
		return phc{}, errHash
	}
	for i, key := range []string{"m=", "t=", "p="} {
		v, ok := strings.CutPrefix(costs[i], key)
		x, err := strconv.ParseUint(v, 10, 32)
		if !ok || err != nil || v != strconv.FormatUint(x, 10) {
			return phc{}, errHash
		}
		n[i] = uint32(x)
	}
	if n[0] < 8*n[2] || n[0] > mostCost.Memory || n[1] < 1 || n[1] > mostCost.Time || n[2] < 1 || n[2] > uint32(mostCost.Threads) {
		return phc{}, errHash
	}
	h := phc{cost: Cost{Memory: n[0], Time: n[1], Threads: uint8(n[2])}}
	for i, to := range []*[]byte{&h.salt, &h.tag} {
		b, err := base64.RawStdEncoding.Strict().DecodeString(parts[4+i])
		if err != nil || len(b) < 8+8*i || len(b) > 64 {
			return phc{}, errHash
		}
		*to = b
	}
	return h, nil
}
