// Package drawing puts a plan on paper: the job card (Card), the templates at
// full size (Templates), three pictures (Pictures), and three more of a computed
// pour (HeatPictures).
//
// Units: mm on the page and in the block frame, g, degrees C, s. Pages are A4
// or Letter and are never scaled; a length of 100 mm on a template is 100 mm on
// the sheet to within the 0.001 mm that the PDF's numbers keep. Outlines are
// the level curves of the meshes in the parting face, followed to 0.02 mm;
// shadows of masters are traced on a raster of at most 1400 cells a side, so
// to 1/2800 of the master's longest side.
//
// Method: sheets are lists of marks (page) written twice: as PDF with subset
// fonts, or on a raster. The meshes are drawn by an orthographic z-buffer. The
// same input gives the same bytes on every machine; nothing reads the clock.
//
// Limits: text is set left to right in the letters that the embedded fonts
// hold; others show as a question mark. Labels that find no room beside a
// picture are left out there and stand on the sheet of findings.
//
// Reference: thinning of lines after Douglas & Peucker (1973), Cartographica
// 10(2), 112-122. Everything on the safety of the work is common practice or
// stands beside its source on the sheet; local codes come first.
package drawing
