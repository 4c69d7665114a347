package drawing

import "testing"

func TestNumbersAsAPersonSaysThem(t *testing.T) {
	cases := []struct{ got, want string }{
		{Part(453.6, 1), "454"}, {Part(453.64, 0.1), "453.6"}, {Part(99.96, 0.5), "100.0"}, {Part(12345, 1), "12" + thin + "345"},
		{Part(22.68, 0.1), "22.7"}, {Part(22.68, 0.05), "22.70"}, {Part(22.68, 1), "23"}, {Part(22.68, 0.2), "22.6"}, {Part(22.68, 0), "22.7"},
		{Ladle(221), "230"}, {Ladle(230), "230"}, {Ladle(230.0000000001), "230"},
		{Within(2.68), "2.6"}, {Within(3), "3"}, {Within(12.9), "12"}, {Within(0.3), "0.3"},
		{WaitWords(0), "0" + nb + "min"}, {WaitWords(8), "10" + nb + "s"}, {WaitWords(61), "2" + nb + "min"}, {WaitWords(240), "4" + nb + "min"}, {WaitWords(1290), "22" + nb + "min"},
		{WaitWords(5340), "89" + nb + "min"}, {WaitWords(5341), "1" + nb + "h 30" + nb + "min"}, {WaitWords(5640), "1" + nb + "h 35" + nb + "min"}, {WaitWords(7200), "2" + nb + "h"},
		{WaitWords(64800), "18" + nb + "h"}, {WaitWords(64801), "19" + nb + "h"}, {WaitWords(172800), "2" + nb + "days"}, {WaitWords(172801), "3" + nb + "days"},
		{Temperature(291), "290"}, {Temperature(292.5), "295"}, {NeverAbove(314.9), "310"}, {NeverAbove(310), "310"},
		{Length(89.64), "89.6"}, {Length(-0.01), "0.0"}, {Built(129.6), "130"}, {Length(-2.5), "−2.5"},
		{Share(0.11), "11" + nb + "%"}, {Share(0.003), "0.3" + nb + "%"}, {Share(0), "0" + nb + "%"}, {Share(0.0001), "under 0.1" + nb + "%"}, {Share(0.0096), "1" + nb + "%"},
		{Money(9.77, "EUR"), "9.77" + nb + "€"}, {Money(1234567.5, "CHF"), "1" + thin + "234" + thin + "567.50" + nb + "CHF"}, {Money(1200, "JPY"), "1200" + nb + "JPY"}, {Money(3, ""), "3.00"},
		{Cubic(300), "0.3" + nb + "cm³"}, {Cubic(212000), "212" + nb + "cm³"},
		{Between("3.8", "4.3"), "3.8" + nb + "–" + nb + "4.3"},
		{plain(0), "0"}, {plain(0.23), "0.23"}, {plain(1.3e-7), "1.3e-7"}, {plain(9.999e7), "1e8"}, {plain(7280), "7280"}, {plain(60000), "60" + thin + "000"}, {plain(0.0123), "0.0123"},
		{counted(2), "two"}, {counted(40), "40"},
	}
	for i, c := range cases {
		if c.got != c.want {
			t.Errorf("case %d: %q, want %q", i, c.got, c.want)
		}
	}
}
