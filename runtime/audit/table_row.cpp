#include "runtime/audit/table_row.h"

#include "lang/quantity.h"

namespace rampart::audit {
namespace {

// Numbers of a table stay far below this, in every unit; above it sums could overflow.
constexpr std::int64_t kLargest = 1'000'000'000'000;

std::optional<Rational> read_number(std::string_view text) {
  const bool negative = text.starts_with('-');
  if (negative) text.remove_prefix(1);
  const std::optional<Rational> number = parse_decimal(text);
  if (!number || number->overflowed() || *number > Rational(kLargest)) return std::nullopt;
  // Eighteen decimals are more than any supply resolves, and keep products within 128 bits.
  if (!fits_int64(number->denominator())) return std::nullopt;
  return negative ? -*number : *number;
}

}  // namespace

std::optional<Columns> read_header(const std::vector<std::string>& fields) {
  const std::vector<std::string> plain{"time_s", "channel", "voltage_V", "current_A", "output"};
  if (fields == plain) return Columns{false};
  std::vector<std::string> with_segment{"segment"};
  with_segment.insert(with_segment.end(), plain.begin(), plain.end());
  if (fields == with_segment) return Columns{true};
  return std::nullopt;
}

std::optional<FieldMistake> read_row(const std::vector<std::string>& fields, const Columns& columns, TableRow& row) {
  const std::size_t first = columns.segment ? 1 : 0;
  row.segment = columns.segment ? fields[0] : "";
  if (columns.segment && row.segment.empty()) return FieldMistake{"segment", "", "a name"};
  const std::optional<Rational> time = read_number(fields[first]);
  if (!time || time->sign() < 0) return FieldMistake{"time_s", fields[first], "a time in seconds"};
  row.time = *time;
  row.channel = fields[first + 1];
  const std::string& voltage = fields[first + 2];
  const std::string& current = fields[first + 3];
  row.voltage = read_number(voltage);
  if (!row.voltage && !voltage.empty()) return FieldMistake{"voltage_V", voltage, "a voltage in volts"};
  row.current = read_number(current);
  if (!row.current && !current.empty()) return FieldMistake{"current_A", current, "a current in amperes"};
  const std::string& output = fields[first + 4];
  row.output.reset();
  if (!output.empty() && output != "0" && output != "1") return FieldMistake{"output", output, "0 or 1"};
  if (!output.empty()) row.output = output == "1";
  return std::nullopt;
}

}  // namespace rampart::audit
