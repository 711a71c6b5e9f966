#include <array>

#include "compiler/yaml/file_values.h"
#include "lang/findings/files.h"

namespace rampart {
namespace {

// A part of a value's text, without blanks at its ends.
struct Piece {
  std::string_view text;
  Span span;
};

Piece piece_of(const YamlNode& node, std::size_t begin, std::size_t end) {
  const std::string_view text = node.text;
  const auto is_blank = [](char c) { return c == ' ' || c == '\t' || c == '\n'; };
  while (begin < end && is_blank(text[begin])) ++begin;
  while (end > begin && is_blank(text[end - 1])) --end;
  return {text.substr(begin, end - begin), node.part(begin, end - begin)};
}

Piece whole_piece(const YamlNode& node) {
  return piece_of(node, 0, node.text.size());
}

struct ExampleUnit {
  Dimension dimension;
  std::string_view unit;
};

// The unit in which such a value is usually written.
constexpr ExampleUnit kExampleUnits[] = {
    {dimension::kVoltage, "V"},        {dimension::kCurrent, "A"},
    {dimension::kTime, "ms"},          {dimension::kPower, "W"},
    {dimension::kResistance, "Ohm"},   {dimension::kCapacitance, "uF"},
    {dimension::kInductance, "mH"},    {dimension::kVoltageRate, "V/ms"},
    {dimension::kTemperature, "degC"}, {dimension::kThermalResistance, "K/W"},
    {dimension::kHeatCapacity, "J/K"},
};

std::string with_unit(std::string_view number, const Dimension& dimension) {
  std::string text(number);
  for (const ExampleUnit& row : kExampleUnits) {
    if (row.dimension == dimension) return text + " " + std::string(row.unit);
  }
  return text;
}

// "a voltage", "an inductance".
std::string one_of(const Dimension& dimension) {
  if (dimension == dimension::kNone) return "a number";
  const std::string name = dimension_name(dimension);
  if (name.find_first_of("VAsK") == 0) return "a quantity in " + name;
  return (name.find_first_of("aeiou") == 0 ? "an " : "a ") + name;
}

std::string unreadable_hint(std::string_view text, const Dimension& dimension) {
  const std::size_t number = text.find_first_not_of("+-0123456789.");
  const bool begins_with_digit = !text.empty() && text.front() >= '0' && text.front() <= '9';
  if (begins_with_digit && number != std::string_view::npos) {
    if (text[number] == ',') {
      std::string with_point(text);
      with_point[number] = '.';
      if (parse_quantity(with_point)) return "write a decimal point, not a comma: `" + with_point + "`";
      return "write a decimal point, not a comma";
    }
    const bool exponent = (text[number] == 'e' || text[number] == 'E') && number + 1 < text.size();
    if (exponent) return "write the number without an exponent, with a prefix at its unit";
  }
  return "write a number" + (dimension == dimension::kNone ? std::string() : " with its unit") + ", as in `" +
         with_unit("5", dimension) + "`";
}

enum class Percent : std::uint8_t { Refused, Allowed };

// One signed number with its unit. With Percent::Allowed a percentage may stand in its place; `is_percent` tells.
struct Reading {
  Rational value;
  bool is_percent = false;
};

std::optional<Reading> read_piece(const Piece& piece, std::string_view key, const Dimension& dimension, Percent percent,
                                  FindingSink& findings) {
  const std::string shown = shown_text(piece.text);
  const std::optional<Quantity> quantity = parse_quantity(piece.text);
  if (!quantity) {
    findings.report(finding::ValueUnreadable, piece.span, shown, one_of(dimension))
        .hint(unreadable_hint(piece.text, dimension));
    return std::nullopt;
  }
  if (quantity->value.overflowed()) {
    findings.report(finding::FileNumberTooLarge, piece.span, shown);
    return std::nullopt;
  }
  const bool is_percent = piece.text.ends_with('%');
  const bool is_bare = quantity->dimension == dimension::kNone && !is_percent;
  if (is_percent && percent == Percent::Allowed) return Reading{quantity->value, true};
  if (is_bare && dimension == dimension::kNone) return Reading{quantity->value, false};
  if (is_bare) {
    const std::string with =
        percent == Percent::Allowed ? std::string(piece.text) + " %" : with_unit(piece.text, dimension);
    findings.report(finding::MissingUnit, piece.span, shown, key, one_of(dimension))
        .hint("add the unit, as in `" + with + "`");
    return std::nullopt;
  }
  if (dimension == dimension::kNone) {
    findings.report(finding::FileNumberHasUnit, piece.span, shown, key).hint("write the number alone");
    return std::nullopt;
  }
  if (is_percent || quantity->dimension != dimension) {
    const std::string found = is_percent ? "a percentage" : one_of(quantity->dimension);
    findings.report(finding::FileUnitMismatch, piece.span, shown, found, key, one_of(dimension))
        .hint("write it as in `" + with_unit("5", dimension) + "`");
    return std::nullopt;
  }
  return Reading{quantity->value, false};
}

std::string_view bound_name(Bound bound) {
  return bound == Bound::Positive ? "above 0" : "0 or more";
}

bool within(const Rational& value, Bound bound) {
  return bound == Bound::Any || value.sign() > 0 || (bound == Bound::NotNegative && value.sign() == 0);
}

bool check_bound(const Rational& value, const Piece& piece, std::string_view key, Bound bound, FindingSink& findings) {
  if (within(value, bound)) return true;
  findings.report(finding::ValueImpossible, piece.span, key, shown_text(piece.text), bound_name(bound));
  return false;
}

bool check_text(const Field& field, FindingSink& findings) {
  const YamlNode& value = *field.value;
  if (value.kind == YamlKind::Text) return true;
  if (value.kind == YamlKind::Empty) {
    findings.report(finding::NoValue, value.span, field.key);
  } else {
    findings.report(finding::ValueImpossible, value.span, field.key,
                    value.kind == YamlKind::List ? "a list" : "a map of keys", "one value");
  }
  return false;
}

// Where the mark between a nominal value and its tolerance stands, and how long it is.
struct MarkPlace {
  std::size_t begin = std::string::npos;
  std::size_t length = 0;
};

MarkPlace tolerance_mark(std::string_view text) {
  for (const std::string_view mark : {std::string_view("+-"), std::string_view("±"), std::string_view("+/-")}) {
    const std::size_t at = text.find(mark);
    if (at != std::string_view::npos) return {at, mark.size()};
  }
  return {};
}

}  // namespace

std::optional<Rational> read_quantity(const Field& field, const Dimension& dimension, Bound bound,
                                      FindingSink& findings) {
  if (!check_text(field, findings)) return std::nullopt;
  const Piece piece = whole_piece(*field.value);
  if (tolerance_mark(piece.text).length > 0) {
    findings.report(finding::ToleranceNotTaken, piece.span, field.key).hint("write the value alone");
    return std::nullopt;
  }
  const std::optional<Reading> reading = read_piece(piece, field.key, dimension, Percent::Refused, findings);
  if (!reading || !check_bound(reading->value, piece, field.key, bound, findings)) return std::nullopt;
  return reading->value;
}

std::optional<QuantityRange> read_range(const Field& field, const Dimension& dimension, Steps steps,
                                        FindingSink& findings) {
  if (!check_text(field, findings)) return std::nullopt;
  const YamlNode& node = *field.value;
  const std::size_t dots = node.text.find("..");
  if (dots == std::string::npos) {
    findings.report(finding::ValueUnreadable, node.span, shown_text(node.text), one_of(dimension) + " range")
        .hint("write both ends, as in `" + with_unit("0", dimension) + " .. " + with_unit("5", dimension) + "`");
    return std::nullopt;
  }
  const std::size_t step = steps == Steps::Allowed ? node.text.find(" step ", dots) : std::string::npos;
  const bool has_step = step != std::string::npos;
  const Piece low_piece = piece_of(node, 0, dots);
  const Piece high_piece = piece_of(node, dots + 2, has_step ? step : node.text.size());
  const auto low = read_piece(low_piece, field.key, dimension, Percent::Refused, findings);
  const auto high = read_piece(high_piece, field.key, dimension, Percent::Refused, findings);
  if (!low || !high || !check_bound(low->value, low_piece, field.key, Bound::NotNegative, findings)) {
    return std::nullopt;
  }
  if (low->value > high->value) {
    findings.report(finding::RangeReversed, node.span, field.key, {high->value, dimension}, {low->value, dimension})
        .hint("write the lower end first");
    return std::nullopt;
  }
  QuantityRange range{low->value, high->value, 0};
  if (!has_step) return range;
  const Piece step_piece = piece_of(node, step + 6, node.text.size());
  const auto width = read_piece(step_piece, field.key, dimension, Percent::Refused, findings);
  if (!width) return std::nullopt;
  const Rational whole = range.high - range.low;
  if (width->value.sign() <= 0 || whole.overflowed() || width->value > whole) {
    findings.report(finding::ValueImpossible, step_piece.span, "step", shown_text(step_piece.text),
                    "above 0 and not wider than the range");
    return std::nullopt;
  }
  range.step = width->value;
  return range;
}

std::optional<QuantityAccuracy> read_accuracy(const Field& field, const Dimension& dimension, FindingSink& findings) {
  if (!check_text(field, findings)) return std::nullopt;
  const YamlNode& node = *field.value;
  const std::size_t plus = node.text.find('+', 1);
  const bool two_parts = plus != std::string::npos;
  QuantityAccuracy accuracy;
  std::array<Piece, 2> pieces{piece_of(node, 0, two_parts ? plus : node.text.size()), Piece{}};
  if (two_parts) pieces[1] = piece_of(node, plus + 1, node.text.size());
  bool has_fraction = false;
  bool has_offset = false;
  for (std::size_t i = 0; i < (two_parts ? 2U : 1U); ++i) {
    const auto part = read_piece(pieces[i], field.key, dimension, Percent::Allowed, findings);
    if (!part || !check_bound(part->value, pieces[i], field.key, Bound::NotNegative, findings)) return std::nullopt;
    if (part->is_percent && part->value >= Rational(1)) {
      findings.report(finding::ValueImpossible, pieces[i].span, field.key, shown_text(pieces[i].text), "below 100 %");
      return std::nullopt;
    }
    (part->is_percent ? has_fraction : has_offset) = true;
    (part->is_percent ? accuracy.fraction : accuracy.offset) = part->value;
  }
  if (two_parts && !(has_fraction && has_offset)) {
    findings.report(finding::ValueUnreadable, node.span, shown_text(node.text), "an accuracy")
        .hint("write one percentage and one offset, as in `0.1 % + " + with_unit("5", dimension) + "`");
    return std::nullopt;
  }
  return accuracy;
}

std::optional<QuantityTolerance> read_tolerance(const Field& field, const Dimension& dimension, Bound bound,
                                                FindingSink& findings) {
  if (!check_text(field, findings)) return std::nullopt;
  const YamlNode& node = *field.value;
  const MarkPlace mark = tolerance_mark(node.text);
  if (mark.length == 0) {
    const std::optional<Rational> value = read_quantity(field, dimension, bound, findings);
    if (!value) return std::nullopt;
    return QuantityTolerance{*value, *value, *value};
  }
  const Piece nominal_piece = piece_of(node, 0, mark.begin);
  const Piece width_piece = piece_of(node, mark.begin + mark.length, node.text.size());
  const auto nominal = read_piece(nominal_piece, field.key, dimension, Percent::Refused, findings);
  const auto width = read_piece(width_piece, field.key, dimension, Percent::Allowed, findings);
  if (!nominal || !width) return std::nullopt;
  if (!check_bound(nominal->value, nominal_piece, field.key, bound, findings)) return std::nullopt;
  if (!check_bound(width->value, width_piece, "tolerance", Bound::NotNegative, findings)) return std::nullopt;
  const Rational spread = width->is_percent ? abs(nominal->value) * width->value : width->value;
  const QuantityTolerance result{nominal->value, nominal->value - spread, nominal->value + spread};
  if (result.low.overflowed() || result.high.overflowed()) {
    findings.report(finding::FileNumberTooLarge, node.span, shown_text(node.text));
    return std::nullopt;
  }
  if (!within(result.low, bound)) {
    findings.report(finding::ToleranceTooWide, width_piece.span, field.key, {result.low, dimension}, bound_name(bound))
        .hint("write a smaller tolerance");
    return std::nullopt;
  }
  return result;
}

std::optional<Nanoseconds> to_whole_nanoseconds(const Rational& seconds, const Span& place, std::string_view key,
                                                FindingSink& findings) {
  const Rational count = seconds * Rational(1'000'000'000);
  if (!count.overflowed() && count.is_whole() && fits_int64(count.numerator())) {
    return Nanoseconds{static_cast<std::int64_t>(count.numerator())};
  }
  const bool too_long = count.overflowed() || !fits_int64(count.floor());
  findings.report(finding::ValueImpossible, place, key, to_text(Quantity{seconds, dimension::kTime}),
                  too_long ? "below 292 years" : "a whole number of nanoseconds");
  return std::nullopt;
}

std::optional<Nanoseconds> read_nanoseconds(const Field& field, Bound bound, FindingSink& findings) {
  const std::optional<Rational> seconds = read_quantity(field, dimension::kTime, bound, findings);
  if (!seconds) return std::nullopt;
  return to_whole_nanoseconds(*seconds, field.value->span, field.key, findings);
}

std::optional<std::int64_t> read_whole(const Field& field, std::int64_t low, std::int64_t high, FindingSink& findings) {
  if (!check_text(field, findings)) return std::nullopt;
  const Piece piece = whole_piece(*field.value);
  const std::optional<Rational> value = read_quantity(field, dimension::kNone, Bound::Any, findings);
  if (!value) return std::nullopt;
  // Octal in one version of YAML, decimal in the next: neither reading is safe.
  const bool is_octal = piece.text.size() > 1 && piece.text.front() == '0' && piece.text[1] != '.';
  if (is_octal || (value->is_whole() && piece.text.find_first_not_of("-0123456789") != std::string_view::npos)) {
    findings.report(finding::ValueUnreadable, piece.span, shown_text(piece.text), "a whole number")
        .hint(is_octal ? "write it without the leading 0" : "write its digits alone");
    return std::nullopt;
  }
  if (value->is_whole() && Rational(low) <= *value && *value <= Rational(high)) {
    return static_cast<std::int64_t>(value->numerator());
  }
  findings.report(finding::ValueImpossible, piece.span, field.key, shown_text(piece.text),
                  "a whole number from " + std::to_string(low) + " to " + std::to_string(high));
  return std::nullopt;
}

}  // namespace rampart
