// Package draft proposes a mapping for a laboratory that nobody has mapped
// yet, from one or more of its reports, and the changes to a mapping whose
// laboratory has changed its layout.
//
// Enters: documents, and the vocabulary of the trade. Leaves: the text of a
// mapping that decodes as it stands, each of its lines with the confidence
// of the proposal, and a QUESTION on every line that a steward must answer.
// Never: it chooses silently between two readings of a page. A column, unit,
// basis or year that the report does not settle is left out or asked about,
// and the same documents always give the same text.
//
// It is an implementation over mappings: what it proposes, it tries with the
// reader of mappings before it hands it over.
package draft
