package readings

import (
	"encoding/binary"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"pourwright/internal/ground/fault"
)

// pour is an invented recording: row i is at 2 i seconds, T1 jumps at row 10.
func pour(i int) (t, t1, t2 float64) {
	t = 2 * float64(i)
	t1, t2 = 22.5, 23.25
	if i >= 10 {
		t1 += 80 * (1 - math.Exp(-float64(i-9)/6))
		t2 += 30 * (1 - math.Exp(-float64(i-9)/15))
	}
	return t, math.Round(t1*100) / 100, math.Round(t2*100) / 100
}

const rowsOfPour = 40

func table(head string, line func(i int, t, t1, t2 float64) string) string {
	var b strings.Builder
	b.WriteString(head)
	for i := range rowsOfPour {
		t, t1, t2 := pour(i)
		b.WriteString(line(i, t, t1, t2))
		b.WriteByte('\n')
	}
	return b.String()
}

func comma(f string, x ...any) string { return strings.ReplaceAll(fmt.Sprintf(f, x...), ".", ",") }

var began = time.Date(2026, 5, 12, 23, 59, 30, 0, time.UTC)

func clockAt(t float64, layout string) string {
	return began.Add(time.Duration(t * float64(time.Second))).Format(layout)
}

func wideText(s string, order binary.AppendByteOrder, mark bool) string {
	if mark {
		s = "\ufeff" + s
	}
	var out []byte
	for _, u := range utf16.Encode([]rune(s)) {
		out = order.AppendUint16(out, u)
	}
	return string(out)
}

// Every form must give the same times and temperatures.
func TestFormsOfLogs(t *testing.T) {
	semi := table("Zeit (s);T1 (°C);T2 (°C)\n", func(i int, t, a, b float64) string { return comma("%.1f;%.2f;%.2f", t, a, b) })
	cases := []struct{ name, data string }{
		{"comma", table("Time (s),T1 (C),T2 (C)\n", func(i int, t, a, b float64) string { return fmt.Sprintf("%g,%g,%g", t, a, b) })},
		{"comma, quoted decimal comma", table("Time (s),T1,T2\n", func(i int, t, a, b float64) string {
			return `"` + comma("%.1f", t) + `","` + comma("%.2f", a) + `","` + comma("%.2f", b) + `"`
		})},
		{"semicolon, decimal comma", semi},
		{"mark of UTF-8", "\ufeff" + semi},
		{"UTF-16 LE", wideText(semi, binary.LittleEndian, true)},
		{"UTF-16 BE", wideText(semi, binary.BigEndian, true)},
		{"UTF-16 LE, no mark", wideText(semi, binary.LittleEndian, false)},
		{"Latin-1", strings.ReplaceAll(semi, "°", "\xb0")},
		{"CR LF", strings.ReplaceAll(semi, "\n", "\r\n")},
		{"CR", strings.ReplaceAll(semi, "\n", "\r")},
		{"sep line", "sep=;\n" + semi},
		{"tab", strings.ReplaceAll(semi, ";", "\t")},
		{"bar", strings.ReplaceAll(semi, ";", " | ")},
		{"spaces", table("", func(i int, t, a, b float64) string { return fmt.Sprintf("  %6.1f   %6.2f %6.2f", t, a, b) })},
		{"spaces, decimal comma", table("", func(i int, t, a, b float64) string { return comma("%.1f  %.2f %.2f", t, a, b) })},
		{"trailing separator", strings.ReplaceAll(semi, "\n", ";\n")},
		{"hh:mm:ss", table("Elapsed;T1 [°C];T2 [°C]\n", func(i int, t, a, b float64) string {
			return fmt.Sprintf("00:%02d:%02d;%.2f;%.2f", int(t)/60, int(t)%60, a, b)
		})},
		{"mm:ss.f", table("Elapsed;T1;T2\n", func(i int, t, a, b float64) string {
			return fmt.Sprintf("%02d:%02d.0;%.2f;%.2f", 7+int(t)/60, int(t)%60, a, b)
		})},
		{"mm:ss from nought", table("Elapsed;T1;T2\n", func(i int, t, a, b float64) string {
			return fmt.Sprintf("%d:%02d;%.2f;%.2f", int(t)/60, int(t)%60, a, b)
		})},
		{"hh:mm:ss:ms", table("Elapsed;T1;T2\n", func(i int, t, a, b float64) string {
			return fmt.Sprintf("10:%02d:%02d:000;%.2f;%.2f", int(t)/60, int(t)%60, a, b)
		})},
		{"clock past midnight", table("Clock;T1;T2\n", func(i int, t, a, b float64) string {
			return clockAt(t, "15:04:05") + comma(";%.2f;%.2f", a, b)
		})},
		{"ISO", table("timestamp,T1,T2\n", func(i int, t, a, b float64) string {
			return clockAt(t, "2006-01-02T15:04:05.000Z") + fmt.Sprintf(",%.2f,%.2f", a, b)
		})},
		{"ISO basic with zone", table("timestamp,T1,T2\n", func(i int, t, a, b float64) string {
			return clockAt(t, "20060102T150405") + "+01:00" + fmt.Sprintf(",%.2f,%.2f", a, b)
		})},
		{"day first, point", table("Datum/Uhrzeit;T1 / °C;T2 / °C\n", func(i int, t, a, b float64) string {
			return clockAt(t, "02.01.2006 15:04:05") + comma(";%.2f;%.2f", a, b)
		})},
		{"day first, slash, short year", table("Date,T1,T2\n", func(i int, t, a, b float64) string {
			return clockAt(t, "2/1/06 15:04:05") + fmt.Sprintf(",%.2f,%.2f", a, b)
		})},
		{"month first", table("Date,T1,T2\n", func(i int, t, a, b float64) string {
			return clockAt(t, "1/2/2006 03:04:05 PM") + fmt.Sprintf(",%.2f,%.2f", a, b)
		})},
		{"name of the month", table("Date;T1;T2\n", func(i int, t, a, b float64) string {
			return clockAt(t, "02 Jan 2006 15:04:05") + fmt.Sprintf(";%.2f;%.2f", a, b)
		})},
		{"date and clock", table("No;Date;Time;T1 degC;T2 degC;Alarm\n", func(i int, t, a, b float64) string {
			return fmt.Sprint(i+1, ";") + clockAt(t, "02-01-2006;15:04:05") + fmt.Sprintf(";%.2f;%.2f;none", a, b)
		})},
		{"date and clock, spaces", table("", func(i int, t, a, b float64) string {
			return clockAt(t, "2006-01-02 15:04:05") + fmt.Sprintf(" %.2f %.2f", a, b)
		})},
		{"days of a sheet", table("Time;T1;T2\n", func(i int, t, a, b float64) string {
			return comma("%.10f;%.2f;%.2f", 46154.4+t/86400, a, b)
		})},
		{"fractions of a day", table("Time;T1;T2\n", func(i int, t, a, b float64) string {
			return comma("%.10f;%.2f;%.2f", 0.4+t/86400, a, b)
		})},
		{"milliseconds", table("t/ms;T1;T2\n", func(i int, t, a, b float64) string { return fmt.Sprintf("%.0f;%g;%g", t*1000, a, b) })},
		{"minutes", table("Time (min);T1;T2\n", func(i int, t, a, b float64) string { return fmt.Sprintf("%.6f;%g;%g", t/60, a, b) })},
		{"milliseconds since 1970", table("time,T1,T2\n", func(i int, t, a, b float64) string { return fmt.Sprintf("%.0f,%g,%g", 1.77e12+t*1000, a, b) })},
		{"groups of three", table("Time (ms);T1;T2\n", func(i int, t, a, b float64) string {
			n := 998000 + int(t)*1000
			s := fmt.Sprintf("%d.%03d", n/1000, n%1000)
			if n >= 1e6 {
				s = fmt.Sprintf("%d.%03d.%03d", n/1000000, n/1000%1000, n%1000)
			}
			return s + comma(";%.2f;%.2f", a, b)
		})},
		{"Fahrenheit", table("Time (s);T1 (°F);T2 (°F)\n", func(i int, t, a, b float64) string { return fmt.Sprintf("%g;%.3f;%.3f", t, a*1.8+32, b*1.8+32) })},
		{"Kelvin", table("Time (s);T1 (K);T2 (K)\n", func(i int, t, a, b float64) string { return fmt.Sprintf("%g;%.3f;%.3f", t, a+273.15, b+273.15) })},
		{"type K is no kelvin", table("Time (s);TC1 (K);TC2 (K)\n", func(i int, t, a, b float64) string { return fmt.Sprintf("%g;%.3f;%.3f", t, a, b) })},
		{"unit in the cells", table("Time;T1;T2\n", func(i int, t, a, b float64) string { return fmt.Sprintf("%g;%.2f °C;%.3f°F", t, a, b*1.8+32) })},
		{"row of units", table("Time;T1;T2\ns;°C;°C\n", func(i int, t, a, b float64) string { return fmt.Sprintf("%g;%.2f;%.2f", t, a, b) })},
		{"unit of time in the cells", table("time;T;T2\n", func(i int, t, a, b float64) string { return fmt.Sprintf("%g ms;%.2f;%.2f", 1000*t, a, b) })},
		{"unit close to the name", table("No.,Time,CH1(degC),CH2_F,tc K\n", func(i int, t, a, b float64) string {
			return fmt.Sprintf("%d,0:%02d:%02d,%+08.2f,%.3f,---", i+1, int(t)/60, int(t)%60, a, b*1.8+32)
		})},
		{"lines above", "Logger;invented\nSerial no.;12345\nStart;12.05.2026 23:59:30\nInterval;2,0\n\n" + semi},
		{"remarks", "# invented logger\n# interval 2\n#Time (s);T1;T2\n" + table("", func(i int, t, a, b float64) string { return fmt.Sprintf("%g;%.2f;%.2f", t, a, b) })},
		{"other columns", table("Scan,Time (s),T1 (C),RH (%),T2 (C),Battery (V),Note\n", func(i int, t, a, b float64) string {
			return fmt.Sprintf("%d,%g,%g,45.5,%g,3.01,ok", i, t, a, b)
		})},
		{"no header, row numbers", table("", func(i int, t, a, b float64) string { return fmt.Sprintf("%d;%.1f;%.2f;%.2f", i+1, t+0.5, a, b) })},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			l, err := Parse("pour.csv", []byte(c.data), Options{})
			if err != nil {
				t.Fatalf("%v (%s)", err, fault.HintOf(err))
			}
			same(t, l)
		})
	}
}

func same(t *testing.T, l *Log) {
	t.Helper()
	if len(l.Time) != rowsOfPour || len(l.Channels) != 2 {
		t.Fatalf("%d times, %d channels: %+v; %v", len(l.Time), len(l.Channels), l.Channels, l.Notes)
	}
	for i := range l.Time {
		s, a, b := pour(i)
		if math.Abs(l.Time[i]-s) > 1e-4 || math.Abs(l.Channels[0].T[i]-a) > 0.006 || math.Abs(l.Channels[1].T[i]-b) > 0.006 {
			t.Fatalf("row %d: %g s, %g, %g, want %g s, %g, %g; %v", i, l.Time[i], l.Channels[0].T[i], l.Channels[1].T[i], s, a, b, l.Notes)
		}
	}
}

func TestStartNamesAndNotes(t *testing.T) {
	l, err := Parse("a/b/pour.csv", []byte(table("Datum;wall 2 mm [°C];T2 [°C]\n", func(i int, t, a, b float64) string {
		return clockAt(t, "02.01.2006 15:04:05") + comma(";%.2f;%.2f", a, b)
	})), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if l.Start != "2026-05-12 23:59:30" || l.File != "pour.csv" || l.Channels[0].Name != "wall 2 mm" || l.Channels[0].Unit != "C" || l.Channels[0].Column != 2 {
		t.Errorf("%+v", l)
	}
	if c, err := l.Find("wall 2 mm"); err != nil || c.Column != 2 {
		t.Errorf("by name: %v", err)
	}
	if c, err := l.Find("3"); err != nil || c.Name != "T2" {
		t.Errorf("by column: %v", err)
	}
	if _, err := l.Find("wall 3 mm"); err == nil || !strings.Contains(fault.HintOf(err), "wall 2 mm") {
		t.Errorf("near: %v (%s)", err, fault.HintOf(err))
	}
}

// Missing readings, open circuits, shuffled and doubled rows.
func TestBrokenReadings(t *testing.T) {
	gaps := map[int]string{3: "", 4: "NaN", 5: "---", 12: "OL", 13: "9999", 14: "-9999.9", 15: "1372.0", 20: "Open", 21: ">1370", 22: "#N/A", 25: "3276.7"}
	l, err := Parse("p", []byte(table("t;T1;T2\n", func(i int, t, a, b float64) string {
		s := fmt.Sprintf("%.2f", a)
		if g, ok := gaps[i]; ok {
			s = g
		}
		return fmt.Sprintf("%g;%s;%.2f", t, s, b)
	})), Options{})
	if err != nil {
		t.Fatal(err)
	}
	ch := l.Channels[0]
	if ch.Missing != 4 || ch.Open != 7 {
		t.Errorf("missing %d, open %d", ch.Missing, ch.Open)
	}
	for i, x := range ch.T {
		_, a, _ := pour(i)
		if _, gap := gaps[i]; gap != math.IsNaN(x) || !gap && x != a {
			t.Errorf("row %d: %g", i, x)
		}
	}
	lines := strings.Split(strings.TrimSpace(table("", func(i int, t, a, b float64) string { return fmt.Sprintf("%g;%.2f;%.2f", t, a, b) })), "\n")
	for _, pair := range [][2]int{{3, 9}, {20, 31}, {0, 39}} {
		lines[pair[0]], lines[pair[1]] = lines[pair[1]], lines[pair[0]]
	}
	lines = append(lines, lines[5], lines[6], lines[30])
	l, err = Parse("p", []byte("Time (s);T1;T2\n"+strings.Join(lines, "\n")), Options{})
	if err != nil {
		t.Fatal(err)
	}
	same(t, l)
	for i, j := 0, len(lines)-4; i < j; i, j = i+1, j-1 { // newest first
		lines[i], lines[j] = lines[j], lines[i]
	}
	if l, err = Parse("p", []byte("Time (s);T1;T2\n"+strings.Join(lines[:40], "\n")), Options{}); err != nil {
		t.Fatal(err)
	}
	same(t, l)
}

func TestOptions(t *testing.T) {
	data := table("T1;T2\n", func(i int, t, a, b float64) string { return fmt.Sprintf("%.3f;%.3f", a*1.8+32, b*1.8+32) })
	l, err := Parse("p", []byte(data), Options{Unit: "F", Step: 2})
	if err != nil {
		t.Fatal(err)
	}
	same(t, l)
	data = table("Clock;T1;T2\n", func(i int, t, a, b float64) string { return fmt.Sprintf("%02d:%02d;%.2f;%.2f", 9+i*2/60, i*2%60, a, b) })
	if _, err = Parse("p", []byte(data), Options{}); err == nil || !strings.Contains(fault.HintOf(err), "mm:ss") {
		t.Errorf("two parts: %v", err)
	}
	if l, err = Parse("p", []byte(data), Options{Time: "mm:ss"}); err != nil {
		t.Fatal(err)
	}
	same(t, l)
	if l, err = Parse("p", []byte(data), Options{Time: "hh:mm"}); err != nil || l.Time[1] != 120 {
		t.Errorf("hh:mm: %v", err)
	}
	for _, o := range []Options{{Unit: "R"}, {Time: "week"}, {Step: -1}, {Step: math.NaN()}} {
		if _, err := Parse("p", []byte(data), o); fault.KindOf(err) != fault.Usage {
			t.Errorf("%+v: %v", o, err)
		}
	}
}

// What cannot be told is refused with place and next step.
func TestRefusals(t *testing.T) {
	semi := table("Time (s);T1 (°C);T2 (°C)\n", func(i int, t, a, b float64) string { return comma("%.1f;%.2f;%.2f", t, a, b) })
	lines := strings.Split(semi, "\n")
	with := func(n int, s string) string {
		l := append([]string(nil), lines...)
		l[n-1] = s
		return strings.Join(l, "\n")
	}
	for _, c := range []struct{ name, data, place, word string }{
		{"empty", "  \n ", "p", "empty"},
		{"prose", strings.Repeat("no numbers here, at all\n", 30), "p", "no rows"},
		{"few rows", "Time;T1\n0;20\n1;20\n2;21\n", "p:2", "fewer"},
		{"commas both", strings.ReplaceAll(semi, ";", ","), "p:2", "cannot be told apart"},
		{"commas both, no header", strings.ReplaceAll(strings.Join(lines[1:], "\n"), ";", ","), "p:1", "cannot be told apart"},
		{"two marks", with(9, "14,0;22.5;23,25"), "p:9:6", "decimal mark"},
		{"extra cell", with(9, "14,0;22,5;23,25;7"), "p:9:17", "cells where"},
		{"words", strings.ReplaceAll(semi, "22,50", "warm"), "p:2:5", "not a temperature"},
		{"no times", table("T1 (°C);T2 (°C)\n", func(i int, t, a, b float64) string { return fmt.Sprintf("%g;%g", a, b) }), "p:2", "no column of times"},
		{"two recordings", semi + strings.Join(lines[1:], "\n"), "p:42", "begin again"},
		{"a workbook", "PK\x03\x04" + semi, "p", "spreadsheet"},
		{"hot start", table("Time (s);T1\n", func(i int, t, a, b float64) string { return fmt.Sprintf("%g;%g", t, a+273.15) }), "p:2", "no unit"},
		{"open all through", table("Time (s);T1\n", func(i int, t, a, b float64) string { return fmt.Sprintf("%g;9999", t) }), "p:2", "no channel"},
		{"minutes alone", table("Clock (hh:mm);T1\n", func(i int, t, a, b float64) string { return fmt.Sprintf("10:%02d;%g", int(t)/60, a) }), "p:2", "different times"},
		{"no such day", table("Date;T1\n", func(i int, t, a, b float64) string { return fmt.Sprintf("31.02.2026 10:00:%02d;%g", i, a) }), "p:2:1", "neither day first"},
		{"a month long", table("Time (h);T1\n", func(i int, t, a, b float64) string { return fmt.Sprintf("%g;%g", t*20, a) }), "p:2", "days"},
	} {
		_, err := Parse("p", []byte(c.data), Options{})
		if err == nil {
			t.Errorf("%s: taken", c.name)
			continue
		}
		if !strings.HasPrefix(err.Error(), c.place+": ") || !strings.Contains(err.Error(), c.word) || fault.HintOf(err) == "" || fault.KindOf(err) != fault.Input {
			t.Errorf("%s: %v (%s)", c.name, err, fault.HintOf(err))
		}
	}
	if _, err := Load("no/such/file.csv", Options{}); fault.KindOf(err) != fault.Input {
		t.Errorf("no file: %v", err)
	}
}

// A cut last line and a few remarks between the readings are left out.
func TestCutOffAndRemarks(t *testing.T) {
	semi := table("Time (s);T1 (°C);T2 (°C)\n", func(i int, t, a, b float64) string { return comma("%.1f;%.2f;%.2f", t, a, b) })
	l, err := Parse("p", []byte(semi+"80,0;9"), Options{})
	if err != nil {
		t.Fatal(err)
	}
	same(t, l)
	lines := strings.Split(semi, "\n")
	lines[20] = "*** pour\n" + lines[20]
	lines[30] = lines[0] + "\n" + lines[30]
	if l, err = Parse("p", []byte(strings.Join(lines, "\n")), Options{}); err != nil {
		t.Fatal(err)
	}
	same(t, l)
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(table("Zeit (s);T1 (°C);T2 (°C)\n", func(i int, t, a, b float64) string { return comma("%.1f;%.2f;%.2f", t, a, b) })))
	f.Add([]byte(table("Date,Time,T1\n", func(i int, t, a, b float64) string {
		return clockAt(t, "02/01/2006,15:04:05") + fmt.Sprintf(",%.2f", a)
	})))
	f.Add([]byte(table("", func(i int, t, a, b float64) string {
		return clockAt(t, "2006-01-02T15:04:05Z") + fmt.Sprintf(" %.2f OL", a)
	})))
	f.Add([]byte("sep=,\n\"a\"\"b\",\"1,5\n0:00,\x00"))
	f.Fuzz(func(t *testing.T, data []byte) {
		l, err := Parse("f", data, Options{})
		if err != nil {
			if k := fault.KindOf(err); k != fault.Input {
				t.Fatalf("kind %v: %v", k, err)
			}
			return
		}
		if len(l.Time) < leastRows || l.Time[0] != 0 || len(l.Channels) == 0 {
			t.Fatalf("%d times, %d channels", len(l.Time), len(l.Channels))
		}
		for i := 1; i < len(l.Time); i++ {
			if !(l.Time[i] > l.Time[i-1]) || math.IsInf(l.Time[i], 0) {
				t.Fatalf("time %d: %g after %g", i, l.Time[i], l.Time[i-1])
			}
		}
		for _, c := range l.Channels {
			if len(c.T) != len(l.Time) {
				t.Fatalf("%d readings for %d times", len(c.T), len(l.Time))
			}
			for _, x := range c.T {
				if !math.IsNaN(x) && (x < coldest || x > hottest) {
					t.Fatalf("%g degC", x)
				}
			}
		}
	})
}

// An hour at ten a second, two probes: 36 000 rows.
func BenchmarkParse(b *testing.B) {
	var t strings.Builder
	t.WriteString("Zeit;T1 (°C);T2 (°C)\n")
	for i := range 36000 {
		s := float64(i) / 10
		fmt.Fprintf(&t, "%02d:%02d:%04.1f;%.1f;%.1f\n", int(s)/3600, int(s)/60%60, math.Mod(s, 60), 22+s/100, 23+s/200)
	}
	data := []byte(t.String())
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		if _, err := Parse("p", data, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
