// Package yard holds what a keeper writes down: yards, hives and how they were
// built over time, colonies and where they lived, and the records of what was
// seen and done. It holds plain data and the rules that the data keep; where they
// are stored is no concern of it.
//
// Everything kept carries a [Meta]: an ID made by whoever first wrote it down, so
// that an entry sent twice is one entry, a revision that counts its edits, and a
// mark when it was deleted. Nothing that was once kept is rubbed out.
//
// The fields of a record stand in one table, [Kinds], which the forms, the command
// line, CSV, JSON and the documents are all made from. Numbers are SI and their
// names end in the unit.
package yard
