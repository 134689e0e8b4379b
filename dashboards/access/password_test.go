package access

import (
	"encoding/base64"
	"encoding/hex"
	"strings"
	"testing"

	"golang.org/x/crypto/argon2"
)

// TestArgon2idVectors: the test vectors of the reference implementation of
// argon2 by the authors of RFC 9106 (P-H-C/phc-winner-argon2, src/test.c,
// version 0x13), from memory. The vector of RFC 9106, 5.3 itself uses a secret
// and associated data, which the library does not offer and this program does
// not use.
func TestArgon2idVectors(t *testing.T) {
	tests := []struct {
		name           string
		password, salt string
		cost           cost
		key            string
		phc            string // "" where the source prints none
	}{
		{"t=2 m=65536 p=1", "password", "somesalt", cost{1 << 16, 2, 1}, "09316115d5cf24ed5a15a31a3ba326e5cf32edc24702987c02b6566f61913cf7",
			"$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc"},
		{"t=2 m=256 p=1", "password", "somesalt", cost{1 << 8, 2, 1}, "9dfeb910e80bad0311fee20f9c0e2b12c17987b4cac90c2ef54d5b3021c68bfe",
			"$argon2id$v=19$m=256,t=2,p=1$c29tZXNhbHQ$nf65EOgLrQMR/uIPnA4rEsF5h7TKyQwu9U1bMCHGi/4"},
		{"t=2 m=256 p=2", "password", "somesalt", cost{1 << 8, 2, 2}, "6d093c501fd5999645e0ea3bf620d7b8be7fd2db59c20d9fff9539da2bf57037",
			"$argon2id$v=19$m=256,t=2,p=2$c29tZXNhbHQ$bQk8UB/VmZZF4Oo79iDXuL5/0ttZwg2f/5U52iv1cDc"},
		{"t=1 m=65536 p=1", "password", "somesalt", cost{1 << 16, 1, 1}, "f6a5adc1ba723dddef9b5ac1d464e180fcd9dffc9d1cbf76cca2fed795d9ca98",
			"$argon2id$v=19$m=65536,t=1,p=1$c29tZXNhbHQ$9qWtwbpyPd3vm1rB1GThgPzZ3/ydHL92zKL+15XZypg"},
		{"t=4 m=65536 p=1", "password", "somesalt", cost{1 << 16, 4, 1}, "9025d48e68ef7395cca9079da4c4ec3affb3c8911fe4f86d1a2520856f63172c",
			"$argon2id$v=19$m=65536,t=4,p=1$c29tZXNhbHQ$kCXUjmjvc5XMqQedpMTsOv+zyJEf5PhtGiUghW9jFyw"},
		{"another password", "differentpassword", "somesalt", cost{1 << 16, 2, 1}, "0b84d652cf6b0c4beaef0dfe278ba6a80df6696281d7e0d2891b817d8c458fde",
			"$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$C4TWUs9rDEvq7w3+J4umqA32aWKB1+DSiRuBfYxFj94"},
		{"another salt", "password", "diffsalt", cost{1 << 16, 2, 1}, "bdf32b05ccc42eb15d58fd19b1f856b113da1e9a5874fdcc544308565aa8141c",
			"$argon2id$v=19$m=65536,t=2,p=1$ZGlmZnNhbHQ$vfMrBczELrFdWP0ZsfhWsRPaHppYdP3MVEMIVlqoFBw"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			key := argon2.IDKey([]byte(tt.password), []byte(tt.salt), tt.cost.passes, tt.cost.memory, tt.cost.lanes, keySize)
			if got := hex.EncodeToString(key); got != tt.key {
				t.Errorf("key %s, want %s", got, tt.key)
			}
			if got := tt.cost.hash(tt.password, []byte(tt.salt)); got != tt.phc {
				t.Errorf("PHC form %s, want %s", got, tt.phc)
			}
			h, err := parseHash(tt.phc)
			if err != nil {
				t.Fatal(err)
			}
			if !h.matches(tt.password) || h.matches(tt.password+"x") {
				t.Error("the hash does not tell the right password from a wrong one")
			}
		})
	}
}

func TestHashIsSaltedAndReadBack(t *testing.T) {
	one, err := Hash("barge candle forty moss")
	if err != nil {
		t.Fatal(err)
	}
	two, err := Hash("barge candle forty moss")
	if err != nil {
		t.Fatal(err)
	}
	if one == two {
		t.Error("two hashes of one password are alike: there is no salt")
	}
	if !strings.HasPrefix(one, "$argon2id$v=19$m=20480,t=2,p=1$") {
		t.Errorf("hash %s does not say 20 MiB and two passes", one)
	}
	h, err := parseHash(one)
	if err != nil || len(h.salt) != saltSize || len(h.key) != keySize || !h.matches("barge candle forty moss") {
		t.Errorf("hash %+v, error %v", h, err)
	}
}

// TestSameCharactersSamePassword: é typed as one character or as e with an
// accent is the same password (Unicode Standard Annex 15).
func TestSameCharactersSamePassword(t *testing.T) {
	h, err := parseHash(usual.hash("caf\u00e9 barge moss", []byte("0123456789abcdef")))
	if err != nil {
		t.Fatal(err)
	}
	if !h.matches("cafe\u0301 barge moss") || h.matches("cafe barge moss") {
		t.Error("composed and decomposed characters are told apart, or accents are dropped")
	}
}

func TestParseHashRefuses(t *testing.T) {
	salt, key := base64.RawStdEncoding.EncodeToString(make([]byte, 16)), base64.RawStdEncoding.EncodeToString(make([]byte, 32))
	form := func(kind, version, costs string) string {
		return "$" + kind + "$" + version + "$" + costs + "$" + salt + "$" + key
	}
	tests := []struct{ name, phc, says string }{
		{"empty", "", "not argon2id"},
		{"a password", "hunter2hunter2", "not argon2id"},
		{"argon2i", form("argon2i", "v=19", "m=20480,t=2,p=1"), "not argon2id"},
		{"an old version", form("argon2id", "v=16", "m=20480,t=2,p=1"), `version "v=16"`},
		{"no cost", form("argon2id", "v=19", "m=20480"), "want m=KIB"},
		{"text behind the cost", form("argon2id", "v=19", "m=20480,t=2,p=1,x=3"), "want m=KIB"},
		{"a gigabyte", form("argon2id", "v=19", "m=1048576,t=2,p=1"), "1048576 KiB"},
		{"no memory", form("argon2id", "v=19", "m=4,t=2,p=1"), "4 KiB"},
		{"no pass", form("argon2id", "v=19", "m=20480,t=0,p=1"), "0 passes"},
		{"a hundred passes", form("argon2id", "v=19", "m=20480,t=100,p=1"), "100 passes"},
		{"a short salt", "$argon2id$v=19$m=20480,t=2,p=1$AAAA$" + key, "salt"},
		{"a padded salt", "$argon2id$v=19$m=20480,t=2,p=1$" + salt + "==$" + key, "salt"},
		{"a short key", "$argon2id$v=19$m=20480,t=2,p=1$" + salt + "$AAAA", "16 to 64 bytes"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if _, err := parseHash(tt.phc); err == nil || !strings.Contains(err.Error(), tt.says) {
				t.Errorf("error %v, want %q", err, tt.says)
			}
		})
	}
}

func TestCheckPassword(t *testing.T) {
	tests := []struct{ name, password, says string }{
		{"four words", "barge candle forty moss", ""},
		{"exactly twelve", "k7#pL2vQ9zR4", ""},
		{"characters count, not bytes", "żółwżółwżółw12", ""},
		{"eleven", "k7#pL2vQ9zR", "has 11 characters"},
		{"far too long", strings.Repeat("abcdef", 30), "at most 128"},
		{"four over and over", "abcdabcdabcdabcd", "repeats 4"},
		{"the user's name", "xx-Okafor-2026-yy", "name of the user"},
		{"this program", "Bridlewatch-2026!", "name of the user or of this program"},
		{"guessed first", "myPassword-42-zz", "guessed first"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			err := checkPassword("okafor", tt.password)
			if (err == nil) != (tt.says == "") || err != nil && !strings.Contains(err.Error(), tt.says) {
				t.Errorf("error %v, want %q", err, tt.says)
			}
		})
	}
}

// BenchmarkGuess is what one guess of a password costs.
func BenchmarkGuess(b *testing.B) {
	h := hashed{cost: usual, salt: make([]byte, saltSize), key: make([]byte, keySize)}
	for b.Loop() {
		h.matches("barge candle forty moss")
	}
}
