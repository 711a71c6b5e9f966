#include <nlohmann/json.hpp>

#include "lang/findings/syntax.h"
#include "lang/findings/tables.h"
#include "lang/quantity.h"
#include "runtime/audit/auditor.h"
#include "runtime/audit/json_source.h"

namespace rampart::audit {
namespace {

using Json = nlohmann::json;

// Deeper documents are no setpoint tables.
constexpr std::size_t kMaxDepth = 64;

// What a table holds, from the outside to the inside.
enum class In : std::uint8_t { Root, Segments, Segment, Rows, Row, Channels, Channel, Lines, Other };

struct Scalar {
  enum class Kind : std::uint8_t { Null, Truth, Number, Text };
  Kind kind = Kind::Null;
  bool truth = false;
  std::string text;  // as written, where it is a number or text
};

// A number of JSON, which may have an exponent; exact. Empty if it is larger or finer than any table needs.
std::optional<Rational> read_json_number(const std::string& text) {
  constexpr int kLargestExponent = 18;
  const std::size_t mark = text.find_first_of("eE");
  std::optional<Rational> number = read_number(text.substr(0, mark));
  if (!number || mark == std::string::npos) return number;
  const int exponent = std::atoi(text.c_str() + mark + 1);
  if (std::abs(exponent) > kLargestExponent) return std::nullopt;
  for (int i = 0; i < std::abs(exponent); ++i) {
    number = exponent < 0 ? *number / Rational(10) : *number * Rational(10);
    if (number->overflowed() || !fits_int64(number->numerator()) || !fits_int64(number->denominator())) {
      return std::nullopt;
    }
  }
  return number;
}

// Takes the events of the JSON library, builds rows of them and hands these to the auditor.
class TableEvents {
 public:
  TableEvents(JsonSource& source, Auditor& auditor) : source_(source), auditor_(auditor) {}

  [[nodiscard]] bool has_table() const { return has_table_; }
  [[nodiscard]] bool has_setup() const { return has_setup_; }

  bool null() { return scalar({}); }
  bool boolean(bool value) { return scalar({Scalar::Kind::Truth, value, {}}); }
  bool number_integer(Json::number_integer_t value) { return number(std::to_string(value)); }
  bool number_unsigned(Json::number_unsigned_t value) { return number(std::to_string(value)); }
  bool number_float(Json::number_float_t, const std::string& text) { return number(text); }
  bool string(std::string& value) { return scalar({Scalar::Kind::Text, false, std::move(value)}); }
  bool binary(Json::binary_t&) { return true; }
  bool key(std::string& value) {
    key_ = std::move(value);
    return true;
  }
  bool start_object(std::size_t) { return open(true); }
  bool start_array(std::size_t) { return open(false); }
  bool end_object() { return close(); }
  bool end_array() { return close(); }
  bool parse_error(std::size_t, const std::string&, const Json::exception&) {
    auditor_.at({source_.line(), source_.text()});
    auditor_.report(finding::TableNotJson);
    return false;
  }

 private:
  [[nodiscard]] In inside(bool object) const {
    if (stack_.empty()) return object ? In::Root : In::Other;
    switch (stack_.back()) {
      case In::Root:
        return !object && key_ == "segments" ? In::Segments : In::Other;
      case In::Segments:
        return object ? In::Segment : In::Other;
      case In::Segment:
        return !object && key_ == "rows" ? In::Rows : In::Other;
      case In::Rows:
        return object ? In::Row : In::Other;
      case In::Row:
        return object && key_ == "channels" ? In::Channels : object && key_ == "lines" ? In::Lines : In::Other;
      case In::Channels:
        return object ? In::Channel : In::Other;
      default:
        return In::Other;
    }
  }

  bool open(bool object) {
    if (stack_.size() >= kMaxDepth) {
      auditor_.at({source_.line(), source_.text()});
      auditor_.report(finding::TooDeep, static_cast<std::int64_t>(kMaxDepth));
      return false;
    }
    const In in = inside(object);
    stack_.push_back(in);
    if (in == In::Root || in == In::Segment) source_.start_text("");
    if (in == In::Segments) has_table_ = true;
    if (in == In::Other && key_ == "setup") has_setup_ = true;
    if (in == In::Segment) row_.segment.clear();
    if (in == In::Row) begin_row();
    if (in == In::Channel) begin_channel();
    return true;
  }

  bool close() {
    const In in = stack_.back();
    stack_.pop_back();
    if (in == In::Row && !instant_) give_row();
    if (in == In::Channel) give_row();
    return true;
  }

  void begin_row() {
    source_.start_text("{");
    auditor_.count_row();
    const std::string segment = row_.segment;
    row_ = TableRow{};
    row_.segment = segment;
    has_time_ = false;
    instant_ = false;
    is_wrong_ = false;
  }

  void begin_channel() {
    instant_ = true;
    row_.channel = key_;
    row_.voltage.reset();
    row_.current.reset();
    row_.output.reset();
  }

  void give_row() {
    auditor_.at({source_.text_line(), source_.text()});
    if (row_.segment.empty()) wrong("segment", "", "a name");
    if (!has_time_) wrong("time_s", "", "a time in seconds");
    if (row_.channel.empty()) wrong("channel", "", "a name");
    if (!is_wrong_) auditor_.take(row_);
  }

  // Reports the first mistake of a row.
  void wrong(std::string_view column, std::string_view text, std::string_view wanted) {
    if (is_wrong_) return;
    is_wrong_ = true;
    auditor_.at({source_.text_line(), source_.text()});
    auditor_.report(finding::TableField, text, column, wanted);
  }

  bool number(std::string text) { return scalar({Scalar::Kind::Number, false, std::move(text)}); }

  bool scalar(const Scalar& value) {
    if (stack_.empty()) return true;
    switch (stack_.back()) {
      case In::Segment:
        if (key_ == "segment" && value.kind == Scalar::Kind::Text) row_.segment = value.text;
        break;
      case In::Rows:
        begin_row();
        wrong("rows", value.text, "a row");
        break;
      case In::Row:
        take_row_value(value);
        break;
      case In::Channel:
        take_setpoint(value);
        break;
      case In::Lines:
        take_line(value);
        break;
      default:
        break;
    }
    return true;
  }

  void take_row_value(const Scalar& value) {
    if (key_ == "time_s") {
      const std::optional<Rational> time = number_of(value);
      if (!time || time->sign() < 0) return wrong(key_, value.text, "a time in seconds");
      row_.time = *time;
      has_time_ = true;
    } else if (key_ == "channel") {
      if (value.kind != Scalar::Kind::Text) return wrong(key_, value.text, "a name");
      row_.channel = value.text;
    } else {
      take_setpoint(value);
    }
  }

  void take_setpoint(const Scalar& value) {
    const bool is_null = value.kind == Scalar::Kind::Null;
    if (key_ == "voltage_V") {
      row_.voltage = number_of(value);
      if (!row_.voltage && !is_null) wrong(key_, value.text, "a voltage in volts");
    } else if (key_ == "current_A") {
      row_.current = number_of(value);
      if (!row_.current && !is_null) wrong(key_, value.text, "a current in amperes");
    } else if (key_ == "output") {
      row_.output.reset();
      if (value.kind == Scalar::Kind::Truth) row_.output = value.truth;
      if (!row_.output && !is_null) wrong(key_, value.text, "true or false");
    }
  }

  void take_line(const Scalar& value) {
    begin_channel();
    if (value.kind != Scalar::Kind::Truth) return wrong(key_, value.text, "true or false");
    row_.output = value.truth;
    give_row();
  }

  static std::optional<Rational> number_of(const Scalar& value) {
    return value.kind == Scalar::Kind::Number ? read_json_number(value.text) : std::nullopt;
  }

  JsonSource& source_;
  Auditor& auditor_;
  std::vector<In> stack_;
  std::string key_;
  TableRow row_;
  bool has_time_ = false;
  bool instant_ = false;
  bool is_wrong_ = false;
  bool has_table_ = false;
  bool has_setup_ = false;
};

}  // namespace

AuditResult audit_json(std::FILE* stream, const std::string& name, const Bench& bench, SourceSet& sources,
                       FindingSink& findings) {
  JsonSource source(stream);
  Auditor auditor(name, bench, sources, findings);
  TableEvents events(source, auditor);
  if (Json::sax_parse(source.begin(), JsonSource::end(), &events) && !events.has_table()) {
    auditor.at({1, ""});
    auditor.report(finding::TableNoSegments);
  }
  auditor.end_segment();
  AuditResult& result = auditor.result();
  result.has_setup = events.has_setup();
  result.read_to_end = !source.failed();
  return result;
}

}  // namespace rampart::audit
