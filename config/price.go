package config

import (
	"cmp"
	"strconv"
	"strings"
)

// ParsePrice reads money per kilowatt-hour, such as "0.14 USD/kWh". The currency is any code of three
// capital letters (ISO 4217).
func ParsePrice(s string) (Prices, error) {
	const want = "write for instance 0.14 USD/kWh"
	v, rest, err := splitNumber(s)
	if err != nil {
		err.want = cmp.Or(err.want, want)
		return Prices{}, err
	}
	money, per, found := strings.Cut(rest, "/")
	money, per = strings.TrimSpace(money), strings.TrimSpace(per)
	factor := 1.0
	switch {
	case rest == "":
		return Prices{}, &quantityError{s, "no currency", want}
	case !currency(money):
		return Prices{}, &quantityError{s, "no currency " + quote(money), "write its code of three capital letters: " + strings.TrimPrefix(want, "write ")}
	case !found:
		return Prices{}, &quantityError{s, "no unit of energy", want}
	}
	switch per {
	case "kWh":
	case "MWh":
		factor = 1e-3
	default:
		return Prices{}, &quantityError{s, "no unit of energy " + quote(per), "did you mean " + strconv.FormatFloat(v, 'f', -1, 64) + " " + money + "/kWh? (kWh, MWh)"}
	}
	if v < 0 {
		return Prices{}, &quantityError{s, "a price cannot be negative", ""}
	}
	return Prices{Currency: money, PerKWh: v * factor}, nil
}

func currency(s string) bool {
	if len(s) != 3 {
		return false
	}
	for i := range 3 {
		if s[i] < 'A' || s[i] > 'Z' {
			return false
		}
	}
	return true
}
