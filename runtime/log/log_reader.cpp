#include "runtime/log/log_reader.h"

#include <algorithm>
#include <array>

#include "compiler/yaml/file_values.h"
#include "lang/findings/logs.h"
#include "lang/text/trimmed.h"

namespace rampart {
namespace {

constexpr std::string_view kNumberWanted = "a number within 1e12";
constexpr std::string_view kOutputWanted = "0 or 1";

std::string_view time_wanted(const LogDescription& description) {
  switch (description.time) {
    case LogTimeFormat::Seconds:
      return "a time in seconds";
    case LogTimeFormat::Milliseconds:
      return "a time in milliseconds";
    case LogTimeFormat::Days:
      return "a time in days";
    case LogTimeFormat::Iso8601:
      break;
  }
  return description.zone ? "a date with a time of day as in 2027-03-01T09:30:00.125 (ISO 8601)"
                          : "a date with a time of day and an offset from UTC, as in 2027-03-01T09:30:00.125+01:00 "
                            "(ISO 8601); `zone` gives one offset for all";
}

}  // namespace

LogReader::LogReader(std::FILE* stream, const std::string& name, const LogDescription& description,
                     const LogNames& names, FindingSink* findings)
    : name_(name), description_(description), names_(names), findings_(findings), csv_(stream, description.separator) {}

template <class... Arguments>
bool LogReader::refuse_with(const std::string& hint, const FindingKind<Arguments...>& kind,
                            const std::type_identity_t<Arguments>&... arguments) {
  ++broken_;
  if (findings_ == nullptr || reported_ >= kMaxLogFindings) return false;
  ++reported_;
  const std::string_view shown = csv_.text().empty() ? " " : csv_.text();
  const FileId file = findings_->texts().add(name_, std::string(shown), std::max(csv_.number(), 1U));
  auto added = findings_->report(kind, Span{file, 0, static_cast<std::uint32_t>(shown.size())}, arguments...);
  if (!hint.empty()) added.hint(hint);
  return false;
}

bool LogReader::refuse_field(std::size_t column, std::string_view wanted) {
  return refuse(finding::LogField, shown_text(field(column)), shown_text(columns_.all[column].header), wanted);
}

// A text of its own, so that it is told at its place.
void LogReader::miss_field(std::size_t column, std::string_view wanted) {
  if (broken_cells_++ > 0 || findings_ == nullptr) return;
  const FileId file = findings_->texts().add(name_, std::string(csv_.text()), std::max(csv_.number(), 1U));
  first_cell_ = Cell{place_of_field(column, file), shown_text(field(column)), shown_text(columns_.all[column].header),
                     wanted, hint_of_field(field(column))};
}

// The whole line where the field is not as it stands in it.
Span LogReader::place_of_field(std::size_t column, FileId file) const {
  const std::string_view line = csv_.text();
  if (!csv_.is_plain()) return Span{file, 0, static_cast<std::uint32_t>(line.size())};
  const std::string_view shown = trimmed(field(column));
  const auto begin = static_cast<std::uint32_t>(shown.data() - line.data());
  return Span{file, begin, begin + static_cast<std::uint32_t>(shown.size())};
}

std::string LogReader::hint_of_field(std::string_view text) const {
  const bool has_comma = !description_.decimal_comma && text.find(',') != std::string_view::npos;
  const bool is_number = has_comma && parse_log_number(text, true).is == LogNumber::Is::Value;
  return is_number ? "if numbers have a decimal comma, write `decimal: comma` in the log's description" : "";
}

void LogReader::finish() {
  if (findings_ == nullptr) return;
  if (broken_ > reported_ && reported_ == kMaxLogFindings) {
    const FileId file = findings_->texts().add(name_, " ", csv_.number());
    findings_->report(finding::LogMore, Span{file, 0, 1}, broken_ - reported_);
    reported_ = broken_;
  }
  if (first_cell_) {
    const Cell& cell = *first_cell_;
    const std::string lead =
        broken_cells_ == 1 ? "a cell cannot be read and counts as missing"
                           : std::to_string(broken_cells_) + " cells cannot be read and count as missing; the first";
    auto added = findings_->report(finding::LogCells, cell.place, lead, cell.text, cell.header, cell.wanted);
    if (!cell.hint.empty()) added.hint(cell.hint);
    first_cell_.reset();
  }
}

// Where one separator splits nothing, another may.
bool LogReader::refuse_header(std::span<const std::string_view> fields, const std::string& why) {
  const auto has = [&](char c) { return fields.size() == 1 && fields.front().find(c) != std::string_view::npos; };
  const std::string_view separator = has(';') ? "semicolon" : has('\t') ? "tab" : has(',') ? "comma" : "";
  const std::string hint =
      separator.empty()
          ? "a file beside the log can describe other columns, `bench.log.yaml` for `bench.csv`: docs/as-run.md"
          : "its fields are apart by another separator: write `separator: " + std::string(separator) +
                "` in the log's description";
  return refuse_with(hint, finding::LogHeader, why);
}

bool LogReader::refuse_fields() {
  const std::size_t count = csv_.fields().size();
  const bool may_be_decimals = description_.separator == ',' && count > columns_.all.size() && reported_ == 0;
  return refuse_with(may_be_decimals ? "numbers with a decimal comma need another separator than commas" : "",
                     finding::LogFields, std::to_string(count) + (count == 1 ? " field" : " fields"),
                     static_cast<std::int64_t>(columns_.all.size()));
}

bool LogReader::open() {
  for (std::int64_t i = 0; i <= description_.skip_lines; ++i) {
    if (!csv_.next()) return refuse(finding::LogEmpty);
    constexpr std::array<std::string_view, 2> kWideMarks{"\xFF\xFE", "\xFE\xFF"};
    const bool is_wide = i == 0 && std::any_of(kWideMarks.begin(), kWideMarks.end(),
                                               [this](std::string_view mark) { return csv_.text().starts_with(mark); });
    if (is_wide) return refuse(finding::LogLine, "the log is written in UTF-16: save it as UTF-8");
  }
  if (!csv_.mistake().empty()) return refuse(finding::LogLine, csv_.mistake());
  std::vector<std::string_view> fields = csv_.fields();
  constexpr std::string_view kByteOrderMark = "\xEF\xBB\xBF";
  if (!fields.empty() && fields.front().starts_with(kByteOrderMark)) fields.front().remove_prefix(3);
  std::string why;
  std::optional<LogColumns> columns = read_log_header(fields, description_, names_, why);
  if (!columns) return refuse_header(fields, why);
  columns_ = *std::move(columns);
  kind_ = columns_.find(LogColumnKind::Kind);
  segment_column_ = columns_.find(LogColumnKind::Segment);
  make_groups();
  return true;
}

void LogReader::make_groups() {
  for (std::size_t i = 0; i < columns_.all.size(); ++i) {
    const LogColumn& column = columns_.all[i];
    std::optional<std::size_t> Group::*place = nullptr;
    if (column.kind == LogColumnKind::Voltage) place = &Group::volts;
    if (column.kind == LogColumnKind::Current) place = &Group::amps;
    if (column.kind == LogColumnKind::Output) place = &Group::output;
    if (column.kind == LogColumnKind::Mode) place = &Group::mode;
    if (column.kind == LogColumnKind::Quality) place = &Group::quality;
    if (place == nullptr) continue;
    auto group =
        std::find_if(groups_.begin(), groups_.end(), [&](const Group& one) { return one.target == column.target; });
    if (group == groups_.end()) group = groups_.insert(group, Group{column.target, {}, {}, {}, {}, {}});
    (*group).*place = i;
  }
  // What qualifies no reading says nothing.
  std::erase_if(groups_, [](const Group& group) { return !group.volts && !group.amps; });
}

bool LogReader::next() {
  while (csv_.next()) {
    if (read_line()) return true;
  }
  finish();
  return false;
}

bool LogReader::read_line() {
  readings_.clear();
  command_.reset();
  event_.reset();
  if (!csv_.mistake().empty()) return refuse(finding::LogLine, csv_.mistake());
  if (csv_.text().empty()) return false;
  if (csv_.fields().size() != columns_.all.size()) {
    return refuse_fields();
  }
  const std::optional<Nanoseconds> time =
      parse_log_time(field(columns_.time), description_.time, description_.decimal_comma, description_.zone);
  if (!time) return refuse_field(columns_.time, time_wanted(description_));
  if (!first_) first_ = time;
  if (!is_in_log(*time, *first_)) return refuse_field(columns_.time, "a time within 140 years of the first");
  time_ = *time;
  segment_ = segment_column_ ? trimmed(field(*segment_column_)) : std::string_view();
  const std::string_view kind = kind_ ? trimmed(field(*kind_)) : std::string_view();
  if (kind.empty() || kind == "reading") return take_readings();
  if (kind == "command") return take_command();
  if (kind == "event") return take_event();
  return refuse_field(*kind_, "`reading`, `command` or `event`");
}

bool LogReader::read_target(std::optional<std::size_t>& target) {
  for (const bool is_rail : {true, false}) {
    const std::optional<std::size_t>& column = is_rail ? columns_.rail : columns_.channel;
    if (!column) continue;
    const std::string_view name = trimmed(field(*column));
    if (name.empty()) continue;
    target = is_rail ? names_.find_rail(name) : names_.find_channel(name);
    if (!target) return refuse(finding::LogName, shown_text(name));
    return true;
  }
  return true;
}

bool LogReader::read_number(std::size_t column, std::optional<double>& value) const {
  const LogNumber number = parse_log_number(field(column), description_.decimal_comma);
  if (number.is == LogNumber::Is::Value) value = number.value * columns_.all[column].factor;
  return number.is != LogNumber::Is::Wrong;
}

bool LogReader::read_value(LogColumnKind kind, std::optional<double>& value) {
  const std::optional<std::size_t> column = columns_.find(kind);
  return !column || read_number(*column, value) || refuse_field(*column, kNumberWanted);
}

bool LogReader::read_seconds(LogColumnKind kind, std::optional<double>& value) {
  const std::optional<std::size_t> column = columns_.find(kind);
  if (!column || trimmed(field(*column)).empty()) return true;
  const std::optional<Nanoseconds> time =
      parse_log_time(field(*column), LogTimeFormat::Seconds, description_.decimal_comma, std::nullopt);
  if (!time) return refuse_field(*column, "a time in seconds");
  if (!is_in_log(*time, Nanoseconds{0})) return refuse_field(*column, "a time within 140 years");
  value = static_cast<double>(time->count()) / 1e9;
  return true;
}

bool LogReader::read_output(std::size_t column, std::optional<bool>& value) const {
  const std::string_view text = trimmed(field(column));
  if (text == "0" || text == "1") value = text == "1";
  return value.has_value() || text.empty();
}

bool LogReader::read_mode(std::size_t column, LogMode& mode) const {
  const std::string_view text = trimmed(field(column));
  if (text == "CV") mode = LogMode::ConstantVoltage;
  if (text == "CC") mode = LogMode::ConstantCurrent;
  return mode != LogMode::Unknown || text.empty();
}

bool LogReader::take_readings() {
  for (const Group& group : groups_) {
    if (!take_group(group)) return false;
  }
  return !readings_.empty();
}

bool LogReader::take_group(const Group& group) {
  LogReading reading;
  std::optional<std::size_t> target = group.target;
  if (!target && !read_target(target)) return false;
  if (!target) return refuse(finding::LogLine, "the line does not say which rail or channel was read");
  reading.target = *target;
  read_cells(group, reading);
  const auto instrument = [&](const std::optional<std::size_t>& column) {
    const bool is_own = column && columns_.all[*column].instrument;
    return is_own ? columns_.all[*column].instrument : description_.instrument;
  };
  reading.volts_by = instrument(group.volts);
  reading.amps_by = instrument(group.amps);
  readings_.push_back(reading);
  return true;
}

// Each cell stands for itself: one that cannot be read costs no other.
void LogReader::read_cells(const Group& group, LogReading& reading) {
  for (const bool is_voltage : {true, false}) {
    const std::optional<std::size_t>& column = is_voltage ? group.volts : group.amps;
    if (!column) continue;
    (is_voltage ? reading.expects_volts : reading.expects_amps) = group.target || !trimmed(field(*column)).empty();
    if (!read_number(*column, is_voltage ? reading.volts : reading.amps)) miss_field(*column, kNumberWanted);
  }
  if (group.output && !read_output(*group.output, reading.output)) miss_field(*group.output, kOutputWanted);
  if (group.mode && !read_mode(*group.mode, reading.mode)) miss_field(*group.mode, "`CV` or `CC`");
  if (!group.quality) return;
  const std::string_view quality = trimmed(field(*group.quality));
  if (quality.empty()) return;
  if (quality != "overflow" && quality != "missing") miss_field(*group.quality, "empty, `overflow` or `missing`");
  reading.volts.reset();
  reading.amps.reset();
}

bool LogReader::take_command() {
  LogCommand command;
  std::optional<std::size_t> target;
  if (!read_target(target)) return false;
  if (!target) return refuse(finding::LogLine, "the command does not say which channel it was for");
  command.target = *target;
  const std::optional<std::size_t> output = columns_.find(LogColumnKind::Output);
  const bool is_switch = !output || read_output(*output, command.output) || refuse_field(*output, kOutputWanted);
  if (!is_switch || !read_value(LogColumnKind::SetVoltage, command.volts) ||
      !read_value(LogColumnKind::SetCurrent, command.amps) ||
      !read_seconds(LogColumnKind::Planned, command.planned_s) || !read_seconds(LogColumnKind::Sent, command.sent_s) ||
      !read_seconds(LogColumnKind::Acknowledged, command.acknowledged_s)) {
    return false;
  }
  command_ = command;
  return true;
}

bool LogReader::take_event() {
  LogEvent event;
  if (!read_target(event.target)) return false;
  const std::optional<std::size_t> text = columns_.find(LogColumnKind::Text);
  if (!text) return refuse(finding::LogLine, "the event has no text");
  const std::string_view words = trimmed(field(*text));
  const std::size_t blank = words.find(' ');
  event.word = words.substr(0, blank);
  if (blank != std::string_view::npos) event.rest = trimmed(words.substr(blank));
  event_ = event;
  return true;
}

}  // namespace rampart
