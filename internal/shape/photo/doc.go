// Package photo measures the outline of a flat-backed piece in one photograph
// beside a bank card or on a check sheet.
//
// Main functions: Find (picture to outline), Sheet (the marks of the check
// sheet), ReadOutline and WriteOutline (the text file a person corrects),
// Result.Overlay (the outline over a small grey copy of the picture).
//
// Units: mm on the table (z = 0, the piece's flat back), pixels in the picture.
//
// Method: the reference gives the camera (shape/lens): the card by the
// sub-pixel edges of its four straight sides (ISO/IEC 7810:2019 ID-1), the
// sheet by its marks. The piece is parted from the ground by an iterated graph
// cut (Boykov & Jolly 2001; Rother, Kolmogorov & Blake 2004) on histograms of
// colour, with shaded copies of the ground's colours for shadows; its border is
// then led along the steepest change by dynamic programming and taken to parts
// of a pixel. Perspective, distortion and the parallax of the thickness are
// undone at the end. See docs/numerics/photo.md.
//
// Limits: one piece; a card within 0.76 mm of the table; the optical axis
// through the middle of the picture; concave places narrower than the parallax
// are hidden from the camera and come out filled.
package photo
