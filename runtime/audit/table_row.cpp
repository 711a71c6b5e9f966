#include "runtime/audit/table_row.h"

#include <algorithm>
#include <cstdint>
#include <cstdlib>
#include <span>
#include <utility>

#include "lang/values/quantity.h"

namespace rampart::audit {
namespace {

constexpr std::string_view kSetpointEndings[] = {"_voltage_V", "_current_A", "_output"};

// `text` without the ending; empty if it ends otherwise.
std::string before(std::string_view text, std::string_view ending) {
  return std::string(text.ends_with(ending) ? text.substr(0, text.size() - ending.size()) : "");
}

// The columns after the time: three a channel, then one a line.
std::optional<Columns> read_instant_columns(std::span<const std::string_view> fields) {
  Columns columns;
  columns.instants = true;
  for (std::size_t i = 0; i < fields.size();) {
    const std::string channel = before(fields[i], kSetpointEndings[0]);
    if (!channel.empty() && columns.lines.empty() && i + 2 < fields.size() &&
        before(fields[i + 1], kSetpointEndings[1]) == channel &&
        before(fields[i + 2], kSetpointEndings[2]) == channel) {
      columns.channels.push_back(channel);
      i += 3;
      continue;
    }
    const std::string line = before(fields[i], kSetpointEndings[2]);
    if (line.empty()) return std::nullopt;
    columns.lines.push_back(line);
    ++i;
  }
  return columns;
}

// Voltage, current and output of `row` from three fields; `before_name` stands before the names of their columns.
std::optional<FieldMistake> read_setpoints(std::span<const std::string_view> fields, const std::string& before_name,
                                           TableRow& row) {
  row.voltage = TableNumber::read(fields[0]);
  if (!row.voltage && !fields[0].empty()) {
    return FieldMistake{before_name + "voltage_V", std::string(fields[0]), "a voltage in volts"};
  }
  row.current = TableNumber::read(fields[1]);
  if (!row.current && !fields[1].empty()) {
    return FieldMistake{before_name + "current_A", std::string(fields[1]), "a current in amperes"};
  }
  const std::string_view output = fields[2];
  row.output.reset();
  if (!output.empty() && output != "0" && output != "1") {
    return FieldMistake{before_name + "output", std::string(output), "0 or 1"};
  }
  if (!output.empty()) row.output = output == "1";
  return std::nullopt;
}

// Takes the fields of a line one after another.
class LineFields {
 public:
  explicit LineFields(std::string_view line) : rest_(line) {}

  [[nodiscard]] bool take_name(std::string_view& name) {
    const std::size_t length = std::min(rest_.find(','), rest_.size());
    name = rest_.substr(0, length);
    rest_.remove_prefix(length);
    return length > 0;
  }
  [[nodiscard]] bool take_number(TableNumber& number) { return TableNumber::take_short(rest_, number); }
  [[nodiscard]] bool take_comma() { return take(','); }
  [[nodiscard]] bool take(char c) {
    if (!rest_.starts_with(c)) return false;
    rest_.remove_prefix(1);
    return true;
  }
  [[nodiscard]] bool is_over() const { return rest_.empty(); }

 private:
  std::string_view rest_;
};

std::optional<FieldMistake> read_instant(std::span<const std::string_view> fields, const Columns& columns, TableRow row,
                                         std::vector<TableRow>& rows) {
  row.of_instant = true;
  for (const std::string& channel : columns.channels) {
    row.channel = channel;
    if (auto mistake = read_setpoints(fields.first(3), channel + "_", row)) return mistake;
    if (row.voltage || row.current || row.output) rows.push_back(row);
    fields = fields.subspan(3);
  }
  row.voltage.reset();
  row.current.reset();
  for (std::size_t i = 0; i < columns.lines.size(); ++i) {
    if (fields[i].empty()) continue;
    if (fields[i] != "0" && fields[i] != "1")
      return FieldMistake{columns.lines[i] + "_output", std::string(fields[i]), "0 or 1"};
    row.channel = columns.lines[i];
    row.output = fields[i] == "1";
    rows.push_back(row);
  }
  return std::nullopt;
}

}  // namespace

std::optional<TableNumber> read_json_number(const std::string& text) {
  constexpr int kLargestExponent = 18;
  const std::size_t mark = text.find_first_of("eE");
  const std::optional<TableNumber> digits = TableNumber::read(std::string_view(text).substr(0, mark));
  if (!digits || mark == std::string::npos) return digits;
  const int exponent = std::atoi(text.c_str() + mark + 1);
  if (std::abs(exponent) > kLargestExponent) return std::nullopt;
  Rational number = digits->value();
  for (int i = 0; i < std::abs(exponent); ++i) {
    number = exponent < 0 ? number / Rational(10) : number * Rational(10);
    if (number.overflowed() || !fits_int64(number.numerator()) || !fits_int64(number.denominator())) {
      return std::nullopt;
    }
  }
  return TableNumber(number);
}

std::optional<Columns> read_header(const std::vector<std::string_view>& fields) {
  static const std::vector<std::string_view> kChanges{"channel", "voltage_V", "current_A", "output"};
  std::span<const std::string_view> rest = fields;
  const bool segment = !rest.empty() && rest.front() == "segment";
  if (segment) rest = rest.subspan(1);
  if (rest.empty() || rest.front() != "time_s") return std::nullopt;
  rest = rest.subspan(1);
  std::optional<Columns> columns;
  if (std::equal(rest.begin(), rest.end(), kChanges.begin(), kChanges.end())) {
    columns.emplace();
  } else if (!rest.empty()) {
    columns = read_instant_columns(rest);
  }
  if (columns) columns->segment = segment;
  return columns;
}

bool read_plain_row(std::string_view line, const Columns& columns, TableRow& row) {
  if (columns.instants) return false;
  LineFields fields(line);
  if (columns.segment && !(fields.take_name(row.segment) && fields.take_comma())) return false;
  if (!fields.take_number(row.time) || row.time.sign() < 0 || !fields.take_comma()) return false;
  if (!fields.take_name(row.channel) || !fields.take_comma()) return false;
  if (!fields.take_number(row.voltage.emplace()) || !fields.take_comma()) return false;
  if (!fields.take_number(row.current.emplace()) || !fields.take_comma()) return false;
  row.output = fields.take('1');
  return (*row.output || fields.take('0')) && fields.is_over();
}

std::optional<FieldMistake> read_rows(const std::vector<std::string_view>& fields, const Columns& columns,
                                      std::vector<TableRow>& rows) {
  std::span<const std::string_view> rest = fields;
  TableRow row;
  if (columns.segment) {
    row.segment = rest.front();
    if (row.segment.empty()) return FieldMistake{"segment", "", "a name"};
    rest = rest.subspan(1);
  }
  const std::optional<TableNumber> time = TableNumber::read(rest.front());
  if (!time || time->sign() < 0) return FieldMistake{"time_s", std::string(rest.front()), "a time in seconds"};
  row.time = *time;
  rest = rest.subspan(1);
  if (columns.instants) return read_instant(rest, columns, std::move(row), rows);
  row.channel = rest.front();
  if (auto mistake = read_setpoints(rest.subspan(1), "", row)) return mistake;
  rows.push_back(std::move(row));
  return std::nullopt;
}

}  // namespace rampart::audit
