// Package scan reads pictures of text: photographs, scans, and PDF files
// whose pages are pictures.
//
// Enters: the bytes of a picture or a PDF. Leaves: an [ingest.Document] whose
// words say how sure they are ([ingest.OCR]), or an *[ingest.Reason]. Never:
// it doesn't mend what was read. No letter is made a digit, no point is put
// in, no word is looked up; where two readings differ, both are given.
//
// The recogniser is Tesseract (https://github.com/tesseract-ocr/tesseract),
// version 4 or later, a program that the office installs if it wants scans
// to be read. Its own confidence doesn't tell when it has lost a decimal
// point, so every page is read twice, from two pictures that are prepared as
// differently as they can be. The steps, each with a file of its own:
//
//	picture    a file to a grey picture with a known size
//	flatten    the shade of the paper out; dark and light
//	skew       how far the page is askew; turning it straight
//	rules      the lines of tables and the specks of dust out
//	prepare    all this, twice; in a process set apart if wanted
//	tesseract  running the program
//	table      what it answers
//	compare    two readings to one list of words
//	reader     the whole
package scan
