#include "runtime/log/log_description.h"

#include <algorithm>
#include <array>

#include "compiler/yaml/field_collector.h"
#include "compiler/yaml/file_values.h"
#include "lang/findings/files.h"
#include "runtime/log/log_keys.h"

namespace rampart {
namespace {

constexpr std::size_t kMaxColumns = 1000;
constexpr std::size_t kMaxInstruments = 64;
constexpr std::int64_t kMaxSkipped = 1000;

constexpr std::array<std::string_view, 3> kSeparators{"comma", "semicolon", "tab"};
constexpr std::array<char, 3> kSeparatorCharacters{',', ';', '\t'};
constexpr std::array<std::string_view, 2> kDecimals{"point", "comma"};
constexpr std::array<std::string_view, 4> kTimeFormats{"seconds", "milliseconds", "days", "iso8601"};
constexpr std::array<std::string_view, 2> kSigns{"normal", "reversed"};

constexpr auto kColumns = std::to_array<LogColumnRow>({
    {LogColumnKind::Time, "time_s", "time"},
    {LogColumnKind::Kind, "kind", "kind"},
    {LogColumnKind::Segment, "segment", "segment"},
    {LogColumnKind::Channel, "channel", "channel"},
    {LogColumnKind::Rail, "rail", "rail"},
    {LogColumnKind::Voltage, "measured_V", "voltage"},
    {LogColumnKind::Current, "measured_A", "current"},
    {LogColumnKind::SetVoltage, "set_V", "set_voltage"},
    {LogColumnKind::SetCurrent, "set_A", "set_current"},
    {LogColumnKind::Output, "output", "output"},
    {LogColumnKind::Mode, "mode", "mode"},
    {LogColumnKind::Quality, "quality", "quality"},
    {LogColumnKind::Planned, "planned_s", "planned"},
    {LogColumnKind::Sent, "sent_s", "sent"},
    {LogColumnKind::Acknowledged, "acked_s", "acknowledged"},
    {LogColumnKind::Text, "text", "text"},
});

// The keys of one column.
struct ColumnFields {
  std::size_t is = 0;
  std::optional<std::string> rail;
  std::optional<std::string> channel;
  std::optional<std::string> unit;
  bool reversed = false;
  std::optional<std::string> instrument;
};

// Nothing where the text is no unit of this dimension.
std::optional<double> factor_of(const std::string& unit, const Dimension& dimension) {
  const std::optional<Quantity> one = parse_quantity("1 " + unit);
  if (!one || one->dimension != dimension) return std::nullopt;
  return one->value.to_double();
}

class DescriptionReader {
 public:
  explicit DescriptionReader(FindingSink& findings) : findings_(findings) {}

  LogDescription read(const YamlNode& root) {
    const Section section(field_of_item("log", root), "a log description", log_keys::kTables[0], findings_);
    section.require({"log"});
    section.read("log", [&](const Field& field) { set(log_.title, read_title(field, findings_)); });
    section.read("decimal", [&](const Field& field) {
      if (const auto choice = read_choice(field, kDecimals, findings_)) log_.decimal_comma = *choice == 1;
    });
    if (log_.decimal_comma) log_.separator = ';';
    section.read("separator", [&](const Field& field) { read_separator(field); });
    section.read("skip_lines",
                 [&](const Field& field) { set(log_.skip_lines, read_whole(field, 0, kMaxSkipped, findings_)); });
    section.read("time", [&](const Field& field) { read_time(field); });
    section.read("instruments", [&](const Field& field) { read_instruments(field); });
    section.read("instrument", [&](const Field& field) { log_.instrument = read_instrument_name(field); });
    section.read("columns", [&](const Field& field) { read_columns(field); });
    section.read("date", [&](const Field& field) { log_.date = read_date(field); });
    section.read("operator", [&](const Field& field) { set(log_.who, read_title(field, findings_)); });
    section.read("ambient", [&](const Field& field) { set(log_.ambient, read_title(field, findings_)); });
    section.read("device", [&](const Field& field) { read_device(field); });
    return std::move(log_);
  }

 private:
  template <class Value>
  static void set(Value& value, std::optional<Value> read) {
    if (read) value = *std::move(read);
  }

  void read_separator(const Field& field) {
    const std::optional<std::size_t> choice = read_choice(field, kSeparators, findings_);
    if (!choice) return;
    log_.separator = kSeparatorCharacters[*choice];
    if (log_.separator != ',' || !log_.decimal_comma) return;
    findings_.report(finding::ValuesDoNotFit, field.value->span, "separator", "comma", "decimal", "comma")
        .hint("with decimal commas write `separator: semicolon` or `separator: tab`");
  }

  void read_time(const Field& field) {
    const Section section(field, "`time`", log_keys::kTables[1], findings_);
    section.read("format", [&](const Field& given) {
      if (const auto choice = read_choice(given, kTimeFormats, findings_)) {
        log_.time = static_cast<LogTimeFormat>(*choice);
      }
    });
    section.read("zone", [&](const Field& given) {
      const std::optional<std::string> text = read_title(given, findings_);
      if (!text) return;
      log_.zone = parse_offset(*text);
      if (log_.zone) return;
      findings_.report(finding::ValueUnreadable, given.value->span, shown_text(*text), "offset from UTC")
          .hint("write it as `+01:00`, `-03:30` or `Z`; names of zones are not known here");
    });
    section.read("resolution", [&](const Field& given) {
      set(log_.time_resolution, read_nanoseconds(given, Bound::NotNegative, findings_));
    });
  }

  void read_instruments(const Field& field) {
    const std::vector<YamlEntry>* entries = read_named(field, kMaxInstruments, findings_);
    if (entries == nullptr) return;
    for (const YamlEntry& entry : *entries) {
      check_name(entry.key, entry.key_span, findings_);
      const Section section(field_of(entry), "instrument `" + shown_text(entry.key) + "`", log_keys::kTables[3],
                            findings_);
      LogInstrument instrument;
      instrument.name = entry.key;
      if (auto meter = read_meter(section, findings_)) instrument.meter = *std::move(meter);
      section.read("serial", [&](const Field& given) { set(instrument.serial, read_title(given, findings_)); });
      section.read("calibration_due", [&](const Field& given) {
        instrument.calibration_due = read_date(given);
        instrument.due_span = given.value->span;
      });
      log_.instruments.push_back(std::move(instrument));
    }
  }

  std::optional<Date> read_date(const Field& field) {
    const std::optional<std::string> text = read_title(field, findings_);
    if (!text) return std::nullopt;
    const std::optional<Date> date = parse_date(*text);
    if (!date) {
      findings_.report(finding::ValueUnreadable, field.value->span, shown_text(*text), "a date")
          .hint("write year, month and day, as in `2027-01-31`");
    }
    return date;
  }

  std::optional<std::size_t> read_instrument_name(const Field& field) {
    const std::optional<std::string> name = read_title(field, findings_);
    if (!name) return std::nullopt;
    return find_instrument(*name, field.value->span);
  }

  std::optional<std::size_t> find_instrument(const std::string& name, const Span& place) {
    std::vector<std::string> names;
    for (const LogInstrument& instrument : log_.instruments) names.push_back(instrument.name);
    const auto found = std::find(names.begin(), names.end(), name);
    if (found != names.end()) return static_cast<std::size_t>(found - names.begin());
    report_unknown_name("instrument in this file", name, place, names, findings_);
    return std::nullopt;
  }

  void read_columns(const Field& field) {
    const std::vector<YamlEntry>* entries = read_named(field, kMaxColumns, findings_);
    if (entries == nullptr) return;
    for (const YamlEntry& entry : *entries) read_column(entry);
  }

  void read_column(const YamlEntry& entry) {
    const Section section(field_of(entry), "column `" + shown_text(entry.key) + "`", log_keys::kTables[2], findings_);
    std::array<std::string_view, kColumns.size()> choices{};
    std::transform(kColumns.begin(), kColumns.end(), choices.begin(), [](const LogColumnRow& row) { return row.is; });
    const auto text = [&](const Field& given) -> std::optional<std::optional<std::string>> {
      auto read = read_title(given, findings_);
      if (!read) return std::nullopt;
      return std::optional(std::move(read));
    };
    const std::optional<ColumnFields> fields =
        FieldCollector<ColumnFields>(section)
            .required("is", &ColumnFields::is,
                      [&](const Field& given) { return read_choice(given, choices, findings_); })
            .optional("rail", &ColumnFields::rail, text)
            .optional("channel", &ColumnFields::channel, text)
            .optional("unit", &ColumnFields::unit, text)
            .optional("instrument", &ColumnFields::instrument, text)
            .optional("sign", &ColumnFields::reversed,
                      [&](const Field& given) -> std::optional<bool> {
                        const auto choice = read_choice(given, kSigns, findings_);
                        if (!choice) return std::nullopt;
                        return *choice == 1;
                      })
            .result();
    if (fields) add_column(entry, section, *fields);
  }

  void add_column(const YamlEntry& entry, const Section& section, const ColumnFields& fields) {
    DescribedColumn column;
    column.header = entry.key;
    column.span = entry.key_span;
    column.kind = kColumns[fields.is].kind;
    const bool is_voltage = column.kind == LogColumnKind::Voltage || column.kind == LogColumnKind::SetVoltage;
    const bool is_current = column.kind == LogColumnKind::Current || column.kind == LogColumnKind::SetCurrent;
    if (fields.rail && fields.channel) {
      findings_
          .report(finding::ValuesDoNotFit, section.value_place("channel"), "channel", *fields.channel, "rail",
                  *fields.rail)
          .hint("a column is of a rail or of a channel");
      return;
    }
    column.is_rail = fields.rail.has_value();
    column.name = fields.rail.value_or(fields.channel.value_or(std::string()));
    if (fields.unit) {
      const Dimension dimension = is_voltage ? dimension::kVoltage : dimension::kCurrent;
      const std::optional<double> factor = is_voltage || is_current ? factor_of(*fields.unit, dimension) : std::nullopt;
      if (!factor) {
        findings_.report(finding::ValueUnreadable, section.value_place("unit"), shown_text(*fields.unit),
                         is_current ? "unit of a current" : "unit of a voltage");
        return;
      }
      column.factor = *factor;
    }
    if (fields.reversed) column.factor = -column.factor;
    if (fields.instrument) column.instrument = find_instrument(*fields.instrument, section.value_place("instrument"));
    log_.columns.push_back(std::move(column));
  }

  void read_device(const Field& field) {
    const Section section(field, "`device`", log_keys::kTables[4], findings_);
    section.read("part", [&](const Field& given) { set(log_.device.part, read_title(given, findings_)); });
    section.read("serial", [&](const Field& given) { set(log_.device.serial, read_title(given, findings_)); });
    section.read("revision", [&](const Field& given) { set(log_.device.revision, read_title(given, findings_)); });
  }

  FindingSink& findings_;
  LogDescription log_;
};

}  // namespace

std::span<const LogColumnRow> log_column_rows() {
  return kColumns;
}

std::optional<LogDescription> read_log_description(const SourceSet& sources, FileId file, FindingSink& findings) {
  return read_file_values(sources, file, findings,
                          [&](const YamlNode& root) { return DescriptionReader(findings).read(root); });
}

}  // namespace rampart
