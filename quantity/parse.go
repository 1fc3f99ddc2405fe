package quantity

import (
	"fmt"
	"math"
	"math/big"
	"strings"
	"unicode"
	"unicode/utf8"

	"hackle/internal/spelling"
)

// Error tells why a text is not a quantity of the kind wanted, in words for the
// person who wrote it.
type Error struct {
	Text   string // as given
	Kind   Kind   // wanted
	Reason string // a clause that continues the quoted text
}

// Error returns the quoted text with the reason.
func (e *Error) Error() string { return fmt.Sprintf("%q %s", e.Text, e.Reason) }

const (
	// maxText is far above any quantity that people write and keeps the
	// effort for hostile input small.
	maxText = 200 // [bytes]
	// maxTerms is the length of "1 week 2 d 3 h 4 min 5 s".
	maxTerms = 5
	// maxExponent is beyond the range of float64 for every unit of the table.
	maxExponent = 400
)

// Parse reads a quantity of the given kind and returns it in the unit of that
// kind: SI, but °C for Temperature, a fraction for Fraction and degrees for
// Angle. The result is the float64 nearest to the exact value of the text.
//
// A number may be a decimal with point or comma (1.5 or 1,5), may have an
// exponent (2e-3), or be a fraction (3/4, 1-1/2, 1 1/2, 1½). Thousands
// separators are refused. Feet and inches, pounds and ounces, kilograms and
// grams, hours and minutes and the like may follow one another. Thermal
// resistances may be written R-11 or R11 (h·ft²·°F/Btu) and RSI-1.94 or
// RSI 1.94 (m²·K/W). Gallons, quarts, pints and fluid ounces are those of the
// US unless they say "imp". Case is free where no two units of a kind differ by
// it: mW is not MW, but KG is kg.
//
// A number without unit is refused, except 0 for kinds whose zero is the same
// in all units. So are values beyond float64, numbers that would round to zero,
// and temperatures below absolute zero. Otherwise the sign is free: whether a
// length may be negative is for the caller to judge. Every error is an *[Error].
func Parse(text string, kind Kind) (float64, error) {
	refuse := func(format string, arguments ...any) (float64, error) {
		return 0, &Error{text, kind, fmt.Sprintf(format, arguments...)}
	}
	want := kind.info()
	if want.unit == "" {
		return refuse("cannot be read as a %s", want.name)
	}
	wanted := fmt.Sprintf("%s %s is wanted, e.g. %s", want.article, want.name, want.examples)

	if len(text) > maxText {
		return refuse("is too long: %s", wanted)
	}
	if !utf8.ValidString(text) {
		return refuse("is not valid text: %s", wanted)
	}
	s := plain(text)
	if s == "" {
		return refuse("is empty: %s", wanted)
	}

	in := reader{unitTable()}
	value, fault := in.read(s, kind)
	switch {
	case fault == nil:
	case fault.cause == noUnit && value.Sign() == 0 && kind != Temperature:
		return 0, nil
	case fault.cause == noUnit && kind == Fraction && value.Cmp(big.NewRat(-1, 1)) >= 0 && value.Cmp(big.NewRat(1, 1)) <= 0:
		percent, _ := new(big.Rat).Mul(value, big.NewRat(100, 1)).Float64()
		return refuse("has no unit: write %s %%", significant(percent, 15))
	case fault.cause == noUnit:
		return refuse("has no unit: %s", wanted)
	case fault.cause == badUnit:
		for _, other := range Kinds() {
			if other == kind {
				continue
			}
			if _, miss := in.read(s, other); miss == nil {
				found := other.info()
				return refuse("is %s %s, %s", found.article, found.name, wanted)
			}
		}
		for _, other := range Kinds() {
			if unit, _ := in.find(fault.unit, other); unit != nil && other != kind {
				return refuse("has a part in %s, a unit of %s: %s", unit.symbol, other, wanted)
			}
		}
		if near := in.nearest(fault.unit, kind); near != "" {
			return refuse("has the unknown unit %q, did you mean %s? %s", fault.unit, near, capital(wanted))
		}
		return refuse("has the unknown unit %q: %s", fault.unit, wanted)
	default:
		return refuse("%s; %s", fault.reason, wanted)
	}

	result, _ := value.Float64()
	switch {
	case math.IsInf(result, 0):
		return refuse("is too large: %s", wanted)
	case result == 0 && value.Sign() != 0:
		return refuse("is too small: %s", wanted)
	case kind == Temperature && value.Cmp(big.NewRat(-27315, 100)) < 0:
		return refuse("is below absolute zero, -273.15 °C: %s", wanted)
	}
	return result, nil
}

// capital returns s with its first letter raised; s starts with "a".
func capital(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

// cause sorts the ways in which a text can fail.
type cause int

const (
	badNumber cause = iota // reason says how; no other kind can help
	noUnit                 // a number alone
	badUnit                // the unit is not one of this kind
)

// failure is why read found no quantity.
type failure struct {
	cause  cause
	reason string // with badNumber
	unit   string // with badUnit
}

func bad(format string, arguments ...any) *failure {
	return &failure{cause: badNumber, reason: fmt.Sprintf(format, arguments...)}
}

// plain replaces the many look-alikes of typography by one each, writes
// fractions such as ½ out, and trims the ends.
func plain(text string) string {
	var b strings.Builder
	last := ' '
	for _, r := range text {
		written := string(r)
		switch r {
		case '−', '–', '‐', '‑', '﹣', '-':
			written = "-"
		case '″', '”', '“', '"':
			written = `"`
		case '′', '’', '‘':
			written = "'"
		case '⁄', '∕':
			written = "/"
		case '·', '⋅', '∙', '•', '×', '*':
			written = "·"
		case 'µ', 'μ':
			written = "u"
		case 'º', '˚':
			written = "°"
		case '℃':
			written = "°C"
		case '℉':
			written = "°F"
		case '₂':
			written = "2"
		case '⁻':
			written = "-"
		case '¹', '²', '³':
			// After a digit it would be a power of the number, not of a unit.
			if !digit(last) {
				written = map[rune]string{'¹': "1", '²': "2", '³': "3"}[r]
			}
		default:
			if unicode.IsSpace(r) {
				written = " "
			} else if fraction := vulgar(r); fraction != "" {
				written = fraction + " "
				if digit(last) {
					written = " " + written
				}
			}
		}
		b.WriteString(written)
		last = r
	}
	return strings.ReplaceAll(strings.TrimSpace(b.String()), "''", `"`)
}

// vulgar returns the digits of a fraction that has a sign of its own, or "".
func vulgar(r rune) string {
	const signs = "½1/2 ¼1/4 ¾3/4 ⅛1/8 ⅜3/8 ⅝5/8 ⅞7/8 ⅓1/3 ⅔2/3 ⅕1/5 ⅖2/5 ⅗3/5 ⅘4/5 ⅙1/6 ⅚5/6 ⅒1/10 ⅑1/9 ⅐1/7"
	for sign := range strings.FieldsSeq(signs) {
		if first, size := utf8.DecodeRuneInString(sign); first == r {
			return sign[size:]
		}
	}
	return ""
}

func digit[T byte | rune](c T) bool { return '0' <= c && c <= '9' }

// startsNumber reports whether s begins with a digit, or a point or comma
// before one.
func startsNumber(s string) bool {
	return s != "" && digit(s[0]) || len(s) > 1 && (s[0] == '.' || s[0] == ',') && digit(s[1])
}

// reader holds the table while one text is read.
type reader struct{ rows []unitRow }

// read returns the exact value of the plain text s as a quantity of one kind.
// With the cause noUnit it returns the bare number.
func (in reader) read(s string, kind Kind) (*big.Rat, *failure) {
	if value, fault, ok := in.readR(s, kind); ok {
		return value, fault
	}
	negative := false
	switch s[0] {
	case '-':
		negative = true
		s = strings.TrimLeft(s[1:], " ")
	case '+':
		s = strings.TrimLeft(s[1:], " ")
	}
	terms, fault := in.readTerms(s, kind, maxTerms)
	if fault != nil && fault.cause != noUnit {
		return nil, fault
	}
	sum := new(big.Rat)
	for _, t := range terms {
		number := t.number
		if negative {
			number = new(big.Rat).Neg(number)
		}
		if fault != nil {
			return number, fault
		}
		part := new(big.Rat).Sub(number, ratio(t.unit.offset()))
		sum.Add(sum, part.Mul(part, ratio(t.unit.factor)))
	}
	return sum, nil
}

// readR reads the trade's short forms of a thermal resistance: R-11 in US
// units, RSI-1.94 in SI. It reports false when s is not of that form.
func (in reader) readR(s string, kind Kind) (*big.Rat, *failure, bool) {
	if s[0] != 'R' && s[0] != 'r' {
		return nil, nil, false
	}
	s = s[1:]
	name, symbol := "R", "h·ft²·°F/Btu"
	if len(s) >= 2 && strings.EqualFold(s[:2], "SI") {
		name, symbol = "RSI", "m²·K/W"
		s = s[2:]
	}
	s = strings.TrimLeft(s, " ")
	s = strings.TrimPrefix(s, "-")
	s = strings.TrimLeft(s, " ")
	if !startsNumber(s) {
		return nil, nil, false
	}
	number, rest, fault := readNumber(s)
	if fault != nil {
		return nil, fault, true
	}
	rest = canon(rest)
	if rest != "" && !(name == "R" && strings.EqualFold(rest, "US")) {
		return nil, bad("has %q after an %s-value, which needs no unit", rest, name), true
	}
	if kind != Resistance {
		return nil, &failure{cause: badUnit, unit: name}, true
	}
	return number.Mul(number, ratio(in.row(Resistance, symbol).factor)), nil, true
}

// row returns the row with exactly this symbol; the tests read every symbol
// that the package asks for.
func (in reader) row(kind Kind, symbol string) unitRow {
	for _, row := range in.rows {
		if row.kind == kind && row.symbol == symbol {
			return row
		}
	}
	return unitRow{factor: "0"}
}

// term is one number with its unit.
type term struct {
	number *big.Rat
	unit   unitRow
}

// readTerms reads "5 ft 3 in" and the like: at most limit terms, each of a
// smaller unit of the same chain. With the cause noUnit the number stands in
// the one term returned.
func (in reader) readTerms(s string, kind Kind, limit int) ([]term, *failure) {
	number, rest, fault := readNumber(s)
	if fault != nil {
		return nil, fault
	}
	if canon(rest) == "" {
		return []term{{number: number}}, &failure{cause: noUnit}
	}
	// Where the next number may start, the unit may end: "ft3in" is not a unit,
	// "ft" with "3in" after it is one. The longest unit wins.
	fault = nil
	for end := len(rest); end > 0; end-- {
		if end < len(rest) && !boundary(rest, end) {
			continue
		}
		unit, miss := in.find(rest[:end], kind)
		if miss != nil {
			return nil, miss
		}
		if unit == nil {
			continue
		}
		first := term{number, *unit}
		if end == len(rest) {
			return []term{first}, nil
		}
		tail := strings.TrimLeft(rest[end:], " ")
		if unit.chain == footLength {
			tail = strings.TrimPrefix(tail, "-") // 5'-3" as in drawings
		}
		if limit == 1 {
			return nil, bad("has too many parts")
		}
		more, miss := in.readTerms(tail, kind, limit-1)
		if miss != nil {
			switch {
			case miss.cause == noUnit:
				miss = bad("has no unit after the last number")
			case miss.cause == badUnit && rest[end-1] != ' ':
				miss = &failure{cause: badUnit, unit: firstWord(rest)}
			}
			fault = miss
			continue
		}
		if miss := joins(first, more[0]); miss != nil {
			return nil, miss
		}
		return append([]term{first}, more...), nil
	}
	if fault == nil {
		fault = &failure{cause: badUnit, unit: firstWord(rest)}
	}
	return nil, fault
}

// boundary reports whether a number may start at rest[end]. One that starts
// with its decimal sign must stand apart: "5ft.3in" is not 5 ft 0.3 in.
func boundary(rest string, end int) bool {
	switch before := rest[end-1]; {
	case before == ' ':
		return startsNumber(rest[end:])
	case digit(before) || before == '.' || before == ',':
		return false
	}
	return digit(rest[end]) || rest[end] == '-' && startsNumber(rest[end+1:])
}

// firstWord returns the unit that a message should quote: all of rest up to a
// number that stands apart.
func firstWord(rest string) string {
	for i := 1; i < len(rest); i++ {
		if rest[i-1] == ' ' && startsNumber(rest[i:]) {
			return strings.TrimSpace(rest[:i])
		}
	}
	return strings.TrimSpace(rest)
}

// joins checks that two neighbouring terms make one quantity.
func joins(large, small term) *failure {
	largeUnit, smallUnit := ratio(large.unit.factor), ratio(small.unit.factor)
	switch {
	case large.unit.chain == alone || large.unit.chain != small.unit.chain || smallUnit.Cmp(largeUnit) >= 0:
		return bad("has %s after %s, which do not go together", small.unit.symbol, large.unit.symbol)
	case !large.number.IsInt():
		return bad("has a fraction before its last part")
	case smallUnit.Mul(smallUnit, small.number).Cmp(largeUnit) >= 0:
		return bad("has more %s than make one %s", small.unit.symbol, large.unit.symbol)
	}
	return nil
}

// readNumber reads an unsigned number at the start of s and returns what
// follows it, spaces trimmed.
func readNumber(s string) (*big.Rat, string, *failure) {
	if !startsNumber(s) {
		return nil, "", bad("does not start with a number")
	}
	end := 0
	for end < len(s) && (digit(s[end]) || s[end] == '.' || s[end] == ',') {
		end++
	}
	run, rest := s[:end], s[end:]
	decimal, fault := decimalPoint(run)
	if fault != nil {
		return nil, "", fault
	}
	whole := decimal == run && !strings.Contains(run, ".")

	if exponent, n := exponentOf(rest); n > 0 {
		if exponent > maxExponent {
			return nil, "", bad("is too large")
		}
		if exponent < -maxExponent {
			return nil, "", bad("is too small")
		}
		decimal += fmt.Sprintf("e%d", exponent)
		rest = rest[n:]
		whole = false
	}
	value, ok := new(big.Rat).SetString(decimal)
	if !ok {
		return nil, "", bad("has a number that cannot be read")
	}

	if whole {
		if denominator, after, found := digitsAfter(rest, "/"); found {
			rest = after
			if !divide(value, denominator) {
				return nil, "", bad("divides by zero")
			}
		} else {
			separator := "-"
			if strings.HasPrefix(rest, " ") {
				separator = rest[:len(rest)-len(strings.TrimLeft(rest, " "))]
			}
			numerator, after, found := digitsAfter(rest, separator)
			denominator, last, proper := digitsAfter(after, "/")
			switch {
			case found && proper:
				part, _ := new(big.Rat).SetString(numerator)
				if !divide(part, denominator) {
					return nil, "", bad("divides by zero")
				}
				if part.Cmp(big.NewRat(1, 1)) >= 0 {
					return nil, "", bad("has a fraction of one or more after a whole number")
				}
				value.Add(value, part)
				rest = last
			case found && separator != "-" && len(numerator) == 3:
				return nil, "", bad("has a space inside its number: write %s%s", run, numerator)
			}
		}
	}
	trimmed := strings.TrimLeft(rest, " ")
	switch {
	case startsNumber(trimmed) && trimmed != rest:
		return nil, "", bad("has two numbers and no unit between them")
	case startsNumber(trimmed) || strings.HasPrefix(rest, "/") && startsNumber(rest[1:]):
		return nil, "", bad("has a number that cannot be read")
	case strings.HasPrefix(trimmed, "-") && startsNumber(strings.TrimLeft(trimmed[1:], " ")):
		return nil, "", bad("is a range or a difference, not one value")
	}
	return value, trimmed, nil
}

// divide sets value to value/denominator and reports false for zero.
func divide(value *big.Rat, denominator string) bool {
	by, ok := new(big.Rat).SetString(denominator)
	if !ok || by.Sign() == 0 {
		return false
	}
	value.Quo(value, by)
	return true
}

// digitsAfter returns the digits that follow the prefix in s and what follows
// them.
func digitsAfter(s, prefix string) (digits, rest string, ok bool) {
	after, ok := strings.CutPrefix(s, prefix)
	if !ok {
		return "", s, false
	}
	n := 0
	for n < len(after) && digit(after[n]) {
		n++
	}
	if n == 0 {
		return "", s, false
	}
	return after[:n], after[n:], true
}

// exponentOf reads e, sign and digits at the start of s and returns the
// exponent, held within twice maxExponent, and the bytes read.
func exponentOf(s string) (exponent, n int) {
	if s == "" || s[0] != 'e' && s[0] != 'E' {
		return 0, 0
	}
	n = 1
	sign := 1
	if n < len(s) && (s[n] == '-' || s[n] == '+') {
		if s[n] == '-' {
			sign = -1
		}
		n++
	}
	if n == len(s) || !digit(s[n]) {
		return 0, 0
	}
	for n < len(s) && digit(s[n]) {
		exponent = min(10*exponent+int(s[n]-'0'), 2*maxExponent)
		n++
	}
	return sign * exponent, n
}

// decimalPoint returns a run of digits, points and commas with a point as the
// decimal sign, or why that cannot be told.
func decimalPoint(run string) (string, *failure) {
	points, commas := strings.Count(run, "."), strings.Count(run, ",")
	switch {
	case commas == 0 && points <= 1:
		return run, nil
	case commas == 1 && points == 0:
		before, after, _ := strings.Cut(run, ",")
		if after == "" {
			return "", bad("has a comma without digits after it")
		}
		if len(after) == 3 && before != "" && len(before) <= 3 && before[0] != '0' {
			return "", bad("can be read as %s%s or as %s.%s, write one of these", before, after, before, after)
		}
		return before + "." + after, nil
	case commas == 0 || points == 0:
		return "", bad("has more than one decimal sign, write it without thousands separators")
	}
	// The last of the signs is the decimal one, but people differ: ask.
	decimal := strings.LastIndexAny(run, ".,")
	drop := strings.NewReplacer(".", "", ",", "")
	return "", bad("has points and commas: write it without thousands separators, perhaps %s.%s",
		drop.Replace(run[:decimal]), run[decimal+1:])
}

// canon returns the text of a unit in the form in which units are compared:
// one "·" where spaces, dots or brackets stand, one slash, no raised digits, no
// degree sign in compound units.
func canon(unit string) string {
	unit = strings.ReplaceAll(unit, " per ", "/")
	compound := strings.Contains(unit, "/")
	var b strings.Builder
	gap, slash := false, false
	for i, r := range unit {
		switch r {
		case ' ', '·', '.', '(', ')', '[', ']':
			gap = true
			continue
		case '-':
			if i+1 < len(unit) && !digit(unit[i+1]) { // ft²-h-°F, but m-2
				gap = true
				continue
			}
		case '^':
			continue
		case '°':
			if compound {
				continue
			}
		case '/':
			if !slash {
				slash = true
				gap = false
				b.WriteByte('/')
				continue
			}
			gap = true // a second slash divides by one more factor
			continue
		case '²':
			r = '2'
		case '³':
			r = '3'
		case '₂':
			r = '2'
		case 'µ':
			r = 'u'
		}
		if gap && b.Len() > 0 && !strings.HasSuffix(b.String(), "/") {
			b.WriteString("·")
		}
		gap = false
		b.WriteRune(r)
	}
	return b.String()
}

// matches compares the canonical text of a unit with a name of the table, in
// which "·" stands where the text may have one.
func matches(name, text string, fold bool) bool {
	const dot = "·"
	for name != "" {
		if strings.HasPrefix(name, dot) {
			name = name[len(dot):]
			text = strings.TrimPrefix(text, dot)
			continue
		}
		if text == "" {
			return false
		}
		a, b := name[0], text[0]
		if a != b && !(fold && lower(a) == lower(b)) {
			return false
		}
		name, text = name[1:], text[1:]
	}
	return text == ""
}

func lower(c byte) byte {
	if 'A' <= c && c <= 'Z' {
		return c + 'a' - 'A'
	}
	return c
}

// find returns the unit of one kind that the text names, nil when there is
// none, or a failure when letters of the other case would name two.
func (in reader) find(text string, kind Kind) (*unitRow, *failure) {
	for i := 1; i < len(text); i++ {
		if text[i-1] == ' ' && digit(text[i]) {
			return nil, nil // "5 ft 3" is not a volume
		}
	}
	unit := canon(text)
	if unit == "" || len(unit) > 60 {
		return nil, nil
	}
	for _, fold := range []bool{false, true} {
		var found *unitRow
		for i := range in.rows {
			row := &in.rows[i]
			if row.kind != kind || !row.named(unit, fold) {
				continue
			}
			if found != nil && found.factor != row.factor {
				return nil, bad("has a unit whose case matters: write %s or %s", found.symbol, row.symbol)
			}
			found = row
		}
		if found != nil {
			return found, nil
		}
	}
	return nil, nil
}

// named reports whether the canonical unit is one of the names of the row, or
// the plural of a name in small letters.
func (r *unitRow) named(unit string, fold bool) bool {
	singular := ""
	if n := len(unit) - 1; n >= 2 && lower(unit[n]) == 's' {
		singular = unit[:n]
	}
	match := func(name string) bool {
		if matches(name, unit, fold) && !(fold && prefixDiffers(name, unit)) {
			return true
		}
		return singular != "" && smallLetters(name) && matches(name, singular, fold) && !(fold && prefixDiffers(name, singular))
	}
	if match(canon(r.symbol)) {
		return true
	}
	for name := range strings.FieldsSeq(r.names) {
		if match(name) {
			return true
		}
	}
	return false
}

// prefixDiffers reports whether name and unit differ in the case of a leading
// m, which is milli or mega. Text all in one case (38 MM) and words of small
// letters (Mile) say nothing about the prefix.
func prefixDiffers(name, unit string) bool {
	if lower(name[0]) != 'm' || name[0] == unit[0] {
		return false
	}
	oneCase := unit == strings.ToUpper(unit) || unit == strings.ToLower(unit)
	return !oneCase && !(len(name) >= 3 && smallLetters(name))
}

// smallLetters reports whether s has nothing but the letters a to z and "·".
func smallLetters(s string) bool {
	for _, r := range s {
		if (r < 'a' || r > 'z') && r != '·' {
			return false
		}
	}
	return true
}

// nearest returns the symbol of the unit of the kind whose name needs the
// fewest corrections, or "" when none is near.
func (in reader) nearest(text string, kind Kind) string {
	unit := canon(text)
	symbol, best := "", 3
	if len(unit) <= 4 {
		best = 2
	}
	for i := range in.rows {
		row := &in.rows[i]
		if row.kind != kind {
			continue
		}
		for _, name := range append(strings.Fields(row.names), canon(row.symbol)) {
			steps := spelling.Corrections(strings.ToLower(name), strings.ToLower(unit))
			if steps < best && steps < len(unit) {
				symbol, best = row.symbol, steps
			}
		}
	}
	return symbol
}
