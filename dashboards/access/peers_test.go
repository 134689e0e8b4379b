//go:build peers

package access

import (
	"fmt"
	"os/exec"
	"strings"
	"testing"
)

// TestReferenceImplementationAgrees hashes with the program argon2, the
// reference implementation of RFC 9106 (Debian package argon2), and reads its
// output.
func TestReferenceImplementationAgrees(t *testing.T) {
	program, err := exec.LookPath("argon2")
	if err != nil {
		t.Fatal("the program argon2 is missing: install it (Debian: apt-get install argon2)")
	}
	for i, password := range []string{goodPassword, "k7#pL2vQ9zR4", strings.Repeat("long ", 25), "żółw barge moss"} {
		for _, c := range []cost{usual, {memory: 19 << 10, passes: 2, lanes: 1}, {memory: 64, passes: 3, lanes: 4}} {
			t.Run(fmt.Sprintf("password %d m=%d t=%d p=%d", i, c.memory, c.passes, c.lanes), func(t *testing.T) {
				salt := fmt.Sprintf("salt of password %d", i)
				cmd := exec.Command(program, salt, "-id", "-t", fmt.Sprint(c.passes), "-k", fmt.Sprint(c.memory), "-p", fmt.Sprint(c.lanes), "-l", fmt.Sprint(keySize), "-e")
				cmd.Stdin = strings.NewReader(password)
				out, err := cmd.CombinedOutput()
				if err != nil {
					t.Fatalf("argon2: %v: %s", err, out)
				}
				theirs := strings.TrimSpace(string(out))
				if ours := c.hash(password, []byte(salt)); ours != theirs {
					t.Errorf("ours %s\ntheirs %s", ours, theirs)
				}
				h, err := parseHash(theirs)
				if err != nil || !h.matches(password) {
					t.Errorf("their hash is not read: %v", err)
				}
			})
		}
	}
}
