// Package proofsheet is the workbook in which a person compares a scanned
// report with its picture, word by word.
//
// Enters: the words that the program for scans read, with the pictures of the
// pages; later the workbook as the person left it. Leaves: a workbook with the
// picture of each word beside what was read; corrections, or an
// *[ingest.Reason] that names the cell. Never: it takes no cell for another
// word than the one it was made for, and fills in nothing that the person
// left empty.
package proofsheet
