// Package readings answers what a thermocouple logger wrote down: times and
// temperatures of a real pour, from the CSV file of any logger.
//
// Main functions: Load reads a file, Parse reads bytes. Both find out for
// themselves the character set (UTF-8 with or without a mark, UTF-16, one-byte
// Latin), the separator (tab, semicolon, bar, comma, spaces), the decimal mark,
// the lines above the header, the column of the times and its form, the unit of
// each channel, and the readings of an open circuit. Everything that was mended
// or guessed stands in Log.Notes with its line; what cannot be told apart is an
// error with file, line, column and a next step, never a guess.
//
// Units of a Log: s from the first reading, strictly rising; degC; NaN where a
// channel has no reading.
//
// Forms of time: seconds, milliseconds, minutes, hours or days by the header;
// hh:mm:ss, mm:ss, hh:mm with fractions or AM/PM; date and clock in one or two
// columns, ISO 8601 or day first (month first where the file proves it), names
// of months in English; spreadsheet days since 30 December 1899 and fractions of
// a day; seconds or milliseconds since 1970.
//
// Limits: files up to 16 MiB, 256 columns; a reading outside -60 to 900 degC is
// an open circuit (the alloys of this trade are poured under 450 degC); at least
// 10 times with a reading.
package readings
