package config

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"
)

// Template is the windrow.yaml of a demonstration office: an invented one, in
// the state of Calder. Every setting stands in it with its meaning; those that
// keep their default are commented out.
func Template() []byte {
	return TemplateFor(Office{
		Name:      "Alderbrook County Soil Desk",
		Address:   "14 Millrace Lane\nHollin Ford, CX 00014",
		Phone:     "555-0142",
		Email:     "soil@alderbrook.example",
		Web:       "https://soil.alderbrook.example",
		Signature: "Odalys Fenwick\nSoil Desk",
	}, "CX", []Folder{{Path: "inbox"}})
}

// TemplateFor is the commented windrow.yaml of a new office.
func TemplateFor(o Office, state string, folders []Folder) []byte {
	set := map[string]string{"office.name": o.Name, "office.address": o.Address, "office.phone": o.Phone,
		"office.email": o.Email, "office.web": o.Web, "office.signature": o.Signature, "state": state}
	var b bytes.Buffer
	b.WriteString(`# Settings of this office. Every setting but the folders may also be given by
# an environment variable (its name stands behind it), and many by a flag of a
# command; a flag outranks the environment, and the environment outranks this
# file. A line that is commented out shows the default. Paths are taken from
# this folder unless they are absolute. What holds, and from where it came, is
# shown by: windrow config check
`)
	block := ""
	for _, f := range Spec() {
		top, leaf, nested := strings.Cut(f.Key, ".")
		indent := ""
		if !nested {
			top, leaf = "", f.Key
		} else {
			indent = "  "
		}
		value, given := set[f.Key]
		given = given && value != ""
		if nested && top != block || !nested {
			b.WriteString("\n")
		}
		if nested && top != block {
			b.WriteString(top + ":\n")
		}
		block = top
		env := ""
		if f.Env() != "" {
			env = "  [" + f.Env() + "]"
		}
		fmt.Fprintf(&b, "%s# %s%s\n", indent, f.Doc, env)
		switch f.Kind {
		case Word, Count, Bytes, Duration:
			fmt.Fprintf(&b, "%s# %s\n", indent, f.Wants())
		case List:
			writeFolders(&b, folders)
			continue
		}
		mark := "# "
		if given {
			mark = ""
		} else {
			value = f.show(f.Default)
		}
		writeSetting(&b, indent, mark, leaf, value, f)
	}
	return b.Bytes()
}

// writeSetting writes one setting; a text always in quotes or as a block, so
// that a telephone number stays text and NO stays a state.
func writeSetting(b *bytes.Buffer, indent, mark, leaf, value string, f Field) {
	switch {
	case strings.Contains(value, "\n"):
		fmt.Fprintf(b, "%s%s%s: |\n", indent, mark, leaf)
		for _, l := range strings.Split(value, "\n") {
			fmt.Fprintf(b, "%s%s  %s\n", indent, mark, l)
		}
	case f.Kind == Text || f.Kind == Path && value == "":
		fmt.Fprintf(b, "%s%s%s: %s\n", indent, mark, leaf, strconv.Quote(value))
	default:
		fmt.Fprintf(b, "%s%s%s: %s\n", indent, mark, leaf, value)
	}
}

func writeFolders(b *bytes.Buffer, folders []Folder) {
	b.WriteString("folders:\n")
	for _, f := range folders {
		fmt.Fprintf(b, "  - path: %s\n", strconv.Quote(f.Path))
		for _, x := range []struct{ k, v, doc string }{
			{"office", f.Office, "the office that these reports belong to"},
			{"county", f.County, "the county of a report that does not say one"},
			{"land_use", f.LandUse, "the use of the land of a report that does not say one"},
		} {
			if x.v != "" {
				fmt.Fprintf(b, "    %s: %s\n", x.k, strconv.Quote(x.v))
			} else {
				fmt.Fprintf(b, "    # %s: \"\"    # %s\n", x.k, x.doc)
			}
		}
	}
}

// Reference is the settings as a Markdown table, for the guides.
func Reference() string {
	var b strings.Builder
	b.WriteString("| setting | variable | default | meaning |\n|---|---|---|---|\n")
	for _, f := range Spec() {
		def, env := f.show(f.Default), f.Env()
		if def == "" {
			def = "none"
		} else {
			def = "`" + def + "`"
		}
		if env == "" {
			env = "in the file only"
		} else {
			env = "`" + env + "`"
		}
		doc := f.Doc
		if f.Kind != Text && f.Kind != Path && f.Kind != List {
			doc += "; " + f.Wants()
		}
		fmt.Fprintf(&b, "| `%s` | %s | %s | %s |\n", f.Key, env, def, doc)
	}
	return b.String()
}
