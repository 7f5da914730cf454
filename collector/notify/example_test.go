package notify_test

import (
	"crypto/hmac"
	"encoding/json"
	"fmt"
	"time"

	"luted/collector/notify"
)

// What a receiver of the webhook does: check the signature over the bytes as they came, then that the
// message is fresh, then that it is not a repetition.
func ExampleSign() {
	secret := []byte("a secret that both know")
	body := []byte(`{"version":1,"id":"luted-7-7-1772463680000","kind":"news","sent":"2026-03-02T15:01:50Z","transitions":[]}`)
	header := "sha256=3ad8dd158d55bbd5c9b4213ac9f2862c3f2f5dc8a2ea4c9d5b2fe21e9e3e2b9c" // X-Luted-Signature

	receive := func(header string, now time.Time, taken map[string]bool) string {
		if !hmac.Equal([]byte(header), []byte(notify.Sign(secret, body))) {
			return "not from luted, or changed on the way"
		}
		var p notify.Payload
		if err := json.Unmarshal(body, &p); err != nil {
			return err.Error()
		}
		if age := now.Sub(p.Sent); age > 5*time.Minute || age < -5*time.Minute {
			return "an old message, sent again by somebody"
		}
		if taken[p.ID] {
			return "had it already"
		}
		taken[p.ID] = true
		return "taken"
	}
	now := time.Date(2026, 3, 2, 15, 1, 51, 0, time.UTC)
	taken := make(map[string]bool)
	fmt.Println(receive(header, now, taken))
	header = notify.Sign(secret, body)
	fmt.Println(receive(header, now, taken))
	fmt.Println(receive(header, now, taken))
	fmt.Println(receive(header, now.Add(time.Hour), taken))
	// Output:
	// not from luted, or changed on the way
	// taken
	// had it already
	// an old message, sent again by somebody
}
