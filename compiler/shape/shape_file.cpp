#include <algorithm>
#include <charconv>
#include <string>
#include <string_view>
#include <utility>

#include "compiler/shape/shape.h"
#include "lang/findings/files.h"
#include "lang/findings/syntax.h"
#include "lang/text/text_check.h"
#include "lang/text/trimmed.h"
#include "lang/values/unit.h"

namespace rampart {
namespace {

// After so many mistakes the rest of a file says nothing new.
constexpr int kMaxMistakes = 10;
// Of a power of ten: far beyond any time or voltage, and within what a number holds.
constexpr int kMaxExponent = 30;
constexpr std::size_t kLongestShown = 40;

// "12", "-0.5", "+1.5e-3": exact. Empty if it is no such number; overflowed if it is too large or too fine.
std::optional<Rational> parse_number(std::string_view text) {
  const bool negative = text.starts_with('-');
  if (negative || text.starts_with('+')) text.remove_prefix(1);
  int exponent = 0;
  const std::size_t e = text.find_first_of("eE");
  if (e != std::string_view::npos) {
    std::string_view digits = text.substr(e + 1);
    if (digits.starts_with('+')) digits.remove_prefix(1);
    const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), exponent);
    if (error == std::errc::result_out_of_range) exponent = kMaxExponent + 1;
    if (digits.empty() || end != digits.data() + digits.size() || error == std::errc::invalid_argument)
      return std::nullopt;
    text = text.substr(0, e);
  }
  std::optional<Rational> number = parse_decimal(text);
  if (!number) return std::nullopt;
  if (number->sign() == 0 && !number->overflowed()) return number;
  if (exponent > kMaxExponent || exponent < -kMaxExponent) return Rational::overflow();
  for (; exponent > 0; --exponent) number = *number * Rational(10);
  for (; exponent < 0; ++exponent) number = *number / Rational(10);
  return negative ? -*number : *number;
}

class ShapeReader {
 public:
  ShapeReader(const SourceFile& file, FindingSink& findings) : file_(file), findings_(findings) {}

  std::optional<Shape> read() {
    if (!is_fit()) return std::nullopt;
    std::string_view rest = file_.text();
    while (!rest.empty() && mistakes_ < kMaxMistakes) {
      const std::size_t end = rest.find('\n');
      std::string_view line = rest.substr(0, end);
      if (line.ends_with('\r')) line.remove_suffix(1);
      line = trimmed(line);
      rest.remove_prefix(end == std::string_view::npos ? rest.size() : end + 1);
      if (line.empty() || line.front() == '#') continue;
      if (!units_) {
        if (!read_units(line)) return std::nullopt;
      } else if (shape_.size() == kMaxShapePoints) {
        findings_.report(finding::WaveformTooManyPoints, span_of(line), static_cast<std::int64_t>(kMaxShapePoints))
            .hint("keep only the points at which the slope changes");
        return std::nullopt;
      } else {
        read_point(line);
      }
    }
    if (mistakes_ > 0) return std::nullopt;
    const auto report = [this](const auto& kind, const Span& place, const auto&... arguments) {
      return findings_.report(kind, place, arguments...);
    };
    if (!check_shape(shape_, Span{file_.id(), 0, 0}, report)) return std::nullopt;
    return std::move(shape_);
  }

 private:
  struct Units {
    Rational time;
    Rational voltage;
  };

  [[nodiscard]] bool is_fit() {
    if (file_.text().size() > kMaxShapeBytes) {
      findings_.report(finding::FileTooLarge, Span{file_.id(), 0, 0}, static_cast<std::int64_t>(kMaxShapeBytes >> 10))
          .hint("keep only the points at which the slope changes");
      return false;
    }
    const std::optional<TextFault> fault = find_text_fault(file_.text());
    if (!fault) return true;
    findings_
        .report(finding::UnfitText,
                Span{file_.id(), static_cast<std::uint32_t>(fault->begin), static_cast<std::uint32_t>(fault->end)},
                fault->what)
        .hint(fault->hint);
    return false;
  }

  // `part` is a view into the file.
  [[nodiscard]] Span span_of(std::string_view part) const {
    const auto begin = static_cast<std::uint32_t>(part.data() - file_.text().data());
    return {file_.id(), begin, begin + static_cast<std::uint32_t>(part.size())};
  }

  // The two values of a line; empty, with a finding, if there are not two.
  std::optional<std::pair<std::string_view, std::string_view>> columns_of(std::string_view line) {
    const std::size_t comma = line.find(',');
    const auto count = 1 + std::count(line.begin(), line.end(), ',');
    if (count == 2) return std::pair(trimmed(line.substr(0, comma)), trimmed(line.substr(comma + 1)));
    ++mistakes_;
    const bool semicolon = line.find(';') != std::string_view::npos;
    findings_.report(finding::WaveformColumns, span_of(line), std::int64_t{count})
        .hint(semicolon ? "separate the values by a comma, and write a decimal point"
                        : "write the time and the voltage of one point, separated by a comma");
    return std::nullopt;
  }

  bool read_units(std::string_view line) {
    const std::size_t comma = std::min(line.find(','), line.size());
    const std::string_view rest = line.substr(std::min(comma + 1, line.size()));
    const auto time = factor_of(trimmed(line.substr(0, comma)), "time_", dimension::kTime);
    const auto voltage = factor_of(trimmed(rest), "voltage_", dimension::kVoltage);
    if (!time || !voltage) {
      findings_.report(finding::WaveformUnits, span_of(line))
          .hint("write `time_s,voltage_V`, or other units such as `time_ms,voltage_mV`");
      return false;
    }
    units_ = Units{*time, *voltage};
    return true;
  }

  static std::optional<Rational> factor_of(std::string_view column, std::string_view name, const Dimension& wanted) {
    if (!column.starts_with(name)) return std::nullopt;
    const std::optional<Unit> unit = find_unit_symbol(column.substr(name.size()));
    return unit && unit->dimension == wanted ? std::optional(unit->factor) : std::nullopt;
  }

  void read_point(std::string_view line) {
    const auto columns = columns_of(line);
    if (!columns) return;
    const auto time = read_number(columns->first, units_->time);
    const auto voltage = read_number(columns->second, units_->voltage);
    if (!time || !voltage) return;
    const std::optional<Nanoseconds> nanoseconds = to_nanoseconds(*time);
    if (!nanoseconds) {
      report_too_large(columns->first);
      return;
    }
    shape_.push_back({*nanoseconds, Volts{*voltage}, span_of(line)});
  }

  std::optional<Rational> read_number(std::string_view text, const Rational& factor) {
    const std::optional<Rational> number = parse_number(text);
    if (!number) {
      ++mistakes_;
      const bool shown_whole = text.size() <= kLongestShown;
      findings_.report(finding::WaveformNumber, span_of(text), shown_whole ? text : text.substr(0, kLongestShown))
          .hint("write a decimal number without its unit: the first line has the units");
      return std::nullopt;
    }
    const Rational value = *number * factor;
    if (!value.overflowed()) return value;
    report_too_large(text);
    return std::nullopt;
  }

  void report_too_large(std::string_view text) {
    ++mistakes_;
    findings_.report(finding::NumberTooLarge, span_of(text))
        .hint("use another unit in the first line, or fewer digits");
  }

  const SourceFile& file_;
  FindingSink& findings_;
  std::optional<Units> units_;
  Shape shape_;
  int mistakes_ = 0;
};

}  // namespace

std::optional<Shape> read_shape(const SourceFile& file, FindingSink& findings) {
  return ShapeReader(file, findings).read();
}

}  // namespace rampart
