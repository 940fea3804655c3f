package price

import (
	"fmt"
	"strings"
)

// minorDigits maps the active codes of ISO 4217 to the number of decimals of their minor unit. Codes for metals, funds
// without a minor unit and testing are left out: nobody is quoted in them.
//
// Source: ISO 4217 via datasets/currency-codes, 1 Feb 2026.
var minorDigits = func() map[string]int {
	m := make(map[string]int)
	for digits, codes := range map[int]string{
		0: "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF",
		2: "AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BMD BND BOB BOV BRL BSD BTN BWP BYN BZD " +
			"CAD CDF CHE CHF CHW CNY COP COU CRC CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP " +
			"GEL GHS GIP GMD GTQ GYD HKD HNL HTG HUF IDR ILS INR IRR JMD KES KGS KHR KPW KYD KZT LAK " +
			"LBP LKR LRD LSL MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN MXV MYR MZN NAD NGN NIO " +
			"NOK NPR NZD PAB PEN PGK PHP PKR PLN QAR RON RSD RUB SAR SBD SCR SDG SEK SGD SHP SLE SOS " +
			"SRD SSP STN SVC SYP SZL THB TJS TMT TOP TRY TTD TWD TZS UAH USD USN UYU UZS VED VES WST " +
			"XAD XCD XCG YER ZAR ZMW ZWG",
		3: "BHD IQD JOD KWD LYD OMR TND",
		4: "CLF UYW",
	} {
		for code := range strings.FieldsSeq(codes) {
			m[code] = digits
		}
	}
	return m
}()

// Digits is the number of decimals of a currency, given by its ISO 4217 code in capitals.
//
// It refuses a code not in the list, so that a mistyped code never prices a quote.
func Digits(currency string) (int, error) {
	if d, ok := minorDigits[currency]; ok {
		return d, nil
	}
	if up := strings.ToUpper(strings.TrimSpace(currency)); up != currency {
		if _, ok := minorDigits[up]; ok {
			return 0, fmt.Errorf("the currency is %q; write it as %q", currency, up)
		}
	}
	return 0, fmt.Errorf("the currency is %q; it must be a three-letter code of ISO 4217 such as \"EUR\"", currency)
}
