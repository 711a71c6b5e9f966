#include <sys/types.h>

#include <algorithm>
#include <memory>
#include <nlohmann/json.hpp>

#include "lang/findings/syntax.h"
#include "lang/findings/tables.h"
#include "runtime/audit/auditor.h"
#include "runtime/audit/json_outline.h"
#include "runtime/audit/json_source.h"
#include "runtime/audit/key_watch.h"

namespace rampart::audit {
namespace {

using Json = nlohmann::json;

// What a table holds, from the outside to the inside.
enum class In : std::uint8_t { Root, Segments, Segment, Rows, Row, Channels, Channel, Lines, Other };

struct Scalar {
  JsonKind kind = JsonKind::Null;
  bool truth = false;
  std::string text;  // as written, where it is a number or text
};

// The row of one channel or line.
struct Cell {
  std::string channel;
  TableRow row;
};

// Takes the events of the JSON library, builds rows of them and hands these to the auditor.
class TableEvents {
 public:
  TableEvents(JsonSource& source, Auditor& auditor, const SegmentNames& names, Record& record)
      : source_(source), auditor_(auditor), record_(record), names_(names) {}

  [[nodiscard]] bool has_table() const { return has_table_; }
  [[nodiscard]] const KeptPlace& segment_end() const { return segment_end_; }
  [[nodiscard]] const std::string& sha256_above() const { return sha256_above_; }

  bool null() {
    if (!in_segments_) record_.null();
    return scalar({});
  }
  bool boolean(bool value) {
    if (!in_segments_) record_.truth();
    return scalar({JsonKind::Truth, value, {}});
  }
  bool number_integer(Json::number_integer_t value) { return number(std::to_string(value)); }
  bool number_unsigned(Json::number_unsigned_t value) { return number(std::to_string(value)); }
  bool number_float(Json::number_float_t, const std::string& text) { return number(text); }
  bool string(std::string& value) {
    if (!in_segments_) record_.text(value);
    return scalar({JsonKind::Text, false, std::move(value)});
  }
  bool binary(Json::binary_t&) { return true; }
  bool key(std::string& value) {
    if (!in_segments_) record_.key(value);
    std::string mistake = keys_.take(value);
    if (stack_.size() == 1 && has_digest_ && mistake.empty()) mistake = below_digest(value);
    if (!mistake.empty()) {
      auditor_.at({source_.line_text_number(), source_.line_text()});
      auditor_.report(finding::TableKey, mistake);
      return false;
    }
    if (stack_.size() == 1 && value == kDigestKey) {
      has_digest_ = true;
      sha256_above_ = source_.sha256_above(value);
    }
    key_ = std::move(value);
    return true;
  }
  bool start_object(std::size_t) { return open(true); }
  bool start_array(std::size_t) { return open(false); }
  bool end_object() { return close(); }
  bool end_array() { return close(); }
  bool parse_error(std::size_t, const std::string&, const Json::exception&) {
    auditor_.at({source_.line_text_number(), source_.line_text()});
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

  // What a value of the table itself is to be; empty where any kind will do, or this one does.
  [[nodiscard]] std::string_view wanted_instead_of(JsonKind kind) const {
    if (stack_.empty()) return {};
    if (stack_.back() == In::Root && key_ == "segments" && kind != JsonKind::Array) return "a list";
    if (stack_.back() != In::Segment) return {};
    if (key_ == "segment" && kind != JsonKind::Text) return "a text";
    if (key_ == "duration_s" && kind != JsonKind::Number) return "a number";
    if (key_ == "then" && kind != JsonKind::Object && kind != JsonKind::Null) return "an object or null";
    const bool is_list = key_ == "rows" || key_ == "marks" || key_ == "measurements";
    return is_list && kind != JsonKind::Array ? "a list" : std::string_view();
  }

  // False, after a finding, where a value is of another kind than it can be.
  bool check(JsonKind kind) {
    const std::string_view wanted = wanted_instead_of(kind);
    const std::string mistake = wanted.empty() ? record_.mistake() : "`" + key_ + "` is not " + std::string(wanted);
    if (mistake.empty()) return true;
    auditor_.at({source_.line_text_number(), source_.line_text()});
    auditor_.report(finding::TableKey, mistake);
    return false;
  }

  bool open(bool object) {
    if (stack_.size() >= kMaxDepth) {
      auditor_.at({source_.line(), source_.text()});
      auditor_.report(finding::TooDeep, static_cast<std::int64_t>(kMaxDepth));
      return false;
    }
    const In in = inside(object);
    if (!in_segments_) record_.open(object);
    if (!check(object ? JsonKind::Object : JsonKind::Array)) return false;
    if (in == In::Other && key_ == "then" && !stack_.empty() && stack_.back() == In::Segment) waits_ = true;
    stack_.push_back(in);
    keys_.open();
    if (in == In::Root || in == In::Segment) source_.start_text("");
    if (in == In::Segments) has_table_ = in_segments_ = true;
    if (in == In::Segment) begin_segment();
    if (in == In::Row) begin_row();
    if (in == In::Channel) begin_channel();
    return true;
  }

  bool close() {
    const In in = stack_.back();
    stack_.pop_back();
    keys_.close();
    if (in == In::Segments) in_segments_ = false;
    if (!in_segments_) record_.close();
    if (in == In::Segment) end_segment();
    if (in == In::Row) give_rows();
    if (in == In::Channel) keep_cell();
    return true;
  }

  void begin_segment() {
    row_.segment = {};
    duration_.reset();
    waits_ = false;
    const auto name = names_.find(segment_count_++);
    if (name != names_.end()) name_segment(name->second);
  }

  void name_segment(const std::string& name) {
    if (row_.segment == name) return;
    segment_ = name;
    row_.segment = segment_;
    auditor_.at({source_.line_text_number(), source_.line_text()});
    auditor_.begin_segment(name);
  }

  void end_segment() {
    segment_end_ = RowPlace{source_.line_text_number(), source_.line_text()};
    auditor_.at(segment_end_);
    auditor_.close_segment(duration_, waits_);
  }

  void begin_row() {
    source_.start_text("{");
    auditor_.count_row();
    row_ = TableRow{};
    row_.segment = segment_;
    channel_.clear();
    cells_.clear();
    has_time_ = false;
    is_instant_ = false;
    is_wrong_ = false;
  }

  void begin_channel() {
    is_instant_ = true;
    row_.of_instant = true;
    channel_ = key_;
    row_.voltage.reset();
    row_.current.reset();
    row_.output.reset();
  }

  void keep_cell() {
    if (cells_.size() < KeyWatch::kMostKeys) cells_.push_back({channel_, row_});
  }

  // The rows of one instant: an object has no order, so they are given in the bench's.
  void give_rows() {
    if (!is_instant_) keep_cell();
    std::stable_sort(cells_.begin(), cells_.end(), [this](const Cell& a, const Cell& b) {
      return auditor_.order_of(a.channel) < auditor_.order_of(b.channel);
    });
    for (Cell& cell : cells_) {
      cell.row.time = row_.time;
      cell.row.channel = cell.channel;
      give_row(cell.row);
    }
  }

  void give_row(const TableRow& row) {
    auditor_.at({source_.text_line(), source_.text()});
    if (row.segment.empty()) wrong("segment", "", "a name");
    if (!has_time_) wrong("time_s", "", "a time in seconds");
    if (row.channel.empty()) wrong("channel", "", "a name");
    if (!is_wrong_) auditor_.take(row);
  }

  // Reports the first mistake of a row.
  void wrong(std::string_view column, std::string_view text, std::string_view wanted) {
    if (is_wrong_) return;
    is_wrong_ = true;
    auditor_.at({source_.text_line(), source_.text()});
    auditor_.report_row(column, finding::TableField, text, column, wanted);
  }

  bool number(std::string text) {
    if (!in_segments_) record_.number(text);
    return scalar({JsonKind::Number, false, std::move(text)});
  }

  bool scalar(const Scalar& value) {
    if (!check(value.kind)) return false;
    if (stack_.empty()) return true;
    switch (stack_.back()) {
      case In::Segment:
        if (key_ == "segment") name_segment(value.text);
        if (key_ == "duration_s") duration_ = number_of(value);
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
      const std::optional<TableNumber> time = number_of(value);
      if (!time || time->sign() < 0) return wrong(key_, value.text, "a time in seconds");
      row_.time = *time;
      has_time_ = true;
    } else if (key_ == "channel") {
      if (value.kind != JsonKind::Text) return wrong(key_, value.text, "a name");
      channel_ = value.text;
    } else {
      take_setpoint(value);
    }
  }

  void take_setpoint(const Scalar& value) {
    const bool is_null = value.kind == JsonKind::Null;
    if (key_ == "voltage_V") {
      row_.voltage = number_of(value);
      if (!row_.voltage && !is_null) wrong(key_, value.text, "a voltage in volts");
    } else if (key_ == "current_A") {
      row_.current = number_of(value);
      if (!row_.current && !is_null) wrong(key_, value.text, "a current in amperes");
    } else if (key_ == "output") {
      row_.output.reset();
      if (value.kind == JsonKind::Truth) row_.output = value.truth;
      if (!row_.output && !is_null) wrong(key_, value.text, "true or false");
    }
  }

  void take_line(const Scalar& value) {
    begin_channel();
    if (value.kind != JsonKind::Truth) return wrong(key_, value.text, "true or false");
    row_.output = value.truth;
    keep_cell();
  }

  static std::optional<TableNumber> number_of(const Scalar& value) {
    return value.kind == JsonKind::Number ? read_json_number(value.text) : std::nullopt;
  }

  JsonSource& source_;
  Auditor& auditor_;
  RecordBuilder record_;
  std::vector<In> stack_;
  std::string key_;
  KeyWatch keys_;
  const SegmentNames& names_;
  std::size_t segment_count_ = 0;
  std::string segment_;
  KeptPlace segment_end_;  // of the last one
  std::string channel_;
  TableRow row_;
  std::vector<Cell> cells_;  // of one instant
  bool has_time_ = false;
  bool is_instant_ = false;
  bool is_wrong_ = false;
  bool has_table_ = false;
  bool in_segments_ = false;
  std::optional<TableNumber> duration_;
  bool waits_ = false;
  bool has_digest_ = false;
  std::string sha256_above_;
};

struct CloseFile {
  void operator()(std::FILE* stream) const { std::fclose(stream); }
};
using Stream = std::unique_ptr<std::FILE, CloseFile>;

// What is left of a stream, in a file without a name. Empty if that failed.
Stream copy_of(std::FILE* stream) {
  Stream copy(std::tmpfile());
  char piece[1 << 16];
  while (copy) {
    const std::size_t got = std::fread(piece, 1, sizeof piece, stream);
    if (got == 0) break;
    if (std::fwrite(piece, 1, got, copy.get()) != got) copy.reset();
  }
  if (copy && std::ferror(stream) != 0) copy.reset();
  if (copy) std::rewind(copy.get());
  return copy;
}

}  // namespace

AuditResult audit_json(std::FILE* stream, const std::string& name, const Bench& bench, const Record* beside,
                       SourceSet& sources, FindingSink& findings) {
  Auditor auditor(name, bench, sources, findings);
  AuditResult& result = auditor.result();
  off_t begin = ftello(stream);
  Stream copy;
  if (begin < 0) {
    copy = copy_of(stream);
    result.read_to_end = copy != nullptr;
    if (!copy) return result;
    stream = copy.get();
    begin = 0;
  }
  SegmentNames names;
  const Record own = read_outline(stream, names);
  fseeko(stream, begin, SEEK_SET);
  if (own.has_setup) beside = &own;
  if (beside != nullptr) auditor.hold_to_setup(*beside);

  JsonSource source(stream);
  TableEvents events(source, auditor, names, result.record);
  const bool is_json = Json::sax_parse(source.begin(), JsonSource::end(), &events);
  if (is_json && !events.has_table()) {
    auditor.at({1, ""});
    auditor.report(finding::TableNoSegments);
  } else if (is_json) {
    auditor.at(events.segment_end());
    auditor.end_table();
  }
  auditor.report_alike();
  result.is_document = is_json;
  result.sha256_above = events.sha256_above();
  result.read_to_end = !source.failed();
  return result;
}

}  // namespace rampart::audit
