#include "lang/syntax/unit_hint.h"

#include <algorithm>
#include <cctype>

#include "lang/syntax/scanner.h"
#include "lang/values/unit.h"

namespace rampart {

namespace {

struct Spelling {
  std::string_view word;  // in small letters
  std::string_view unit;
};

constexpr Spelling kSpellings[] = {
    {"volt", "V"},   {"volts", "V"},   {"amp", "A"},    {"amps", "A"},    {"ampere", "A"},   {"amperes", "A"},
    {"watt", "W"},   {"watts", "W"},   {"joule", "J"},  {"joules", "J"},  {"sec", "s"},      {"secs", "s"},
    {"second", "s"}, {"seconds", "s"}, {"msec", "ms"},  {"usec", "us"},   {"minute", "min"}, {"minutes", "min"},
    {"mins", "min"}, {"hr", "h"},      {"hrs", "h"},    {"hour", "h"},    {"hours", "h"},    {"day", "d"},
    {"days", "d"},   {"percent", "%"}, {"pct", "%"},    {"r", "Ohm"},     {"ohms", "Ohm"},   {"kohms", "kOhm"},
    {"farad", "F"},  {"henry", "H"},   {"hertz", "Hz"}, {"coulomb", "C"}, {"kelvin", "K"},
};

std::string lower(std::string_view text) {
  std::string result(text);
  std::transform(result.begin(), result.end(), result.begin(),
                 [](unsigned char c) { return static_cast<char>(c < 0x80U ? std::tolower(c) : c); });
  return result;
}

bool is_exponent(std::string_view word) {
  return word.size() > 1 && (word[0] == 'e' || word[0] == 'E') &&
         std::all_of(word.begin() + 1, word.end(), scan::is_digit);
}

}  // namespace

Advice unit_hint(std::string_view word) {
  if (word == "m") return {"minutes are `min`, and milli needs a unit, as in `ms` or `mV`"};
  if (word == "e" || word == "E" || is_exponent(word)) {
    return {"there are no exponents: write the digits out, or use a prefix as in `mV` or `kOhm`"};
  }
  if (word == "p" || word == "n" || word == "u" || word == "\u00B5" || word == "k" || word == "M") {
    return {"`" + std::string(word) + "` is a prefix and needs a unit, as in `" + std::string(word) + "V`"};
  }
  if (word == "\u00D7" || word == "\u00B7") return {"write `*` to multiply", "*"};
  if (word == "\u2212" || word == "\u2013") return {"write a plain `-`", "-"};
  if (word.starts_with("_")) return {"digits are written without separators"};
  if (word == "x" || word == "times") return {"a number of times has no unit: leave the word out"};
  if (word.starts_with("\u00B0")) return {"temperatures of a profile are in `K`"};
  const std::string small = lower(word);
  for (const Spelling& row : kSpellings) {
    if (row.word == small) return {"write `" + std::string(row.unit) + "`", std::string(row.unit)};
  }
  for (const std::string_view unit : usual_units()) {
    if (lower(unit) == small)
      return {"upper and lower case matter: write `" + std::string(unit) + "`", std::string(unit)};
  }
  const std::size_t length = longest_unit_prefix(word);
  if (length > 0 && word.size() > length && scan::is_digit(word[length])) {
    return {"a unit has no digits: write `3.3 V` for 3V3"};
  }
  return {"units are V A W J Wh C Ah Ohm F H Hz s min h d K and %, with the prefixes p n u m k M"};
}

}  // namespace rampart
