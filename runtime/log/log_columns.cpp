#include "runtime/log/log_columns.h"

#include <algorithm>
#include <set>
#include <utility>

#include "compiler/yaml/file_values.h"

namespace rampart {
namespace {

bool is_reading(LogColumnKind kind) {
  return kind == LogColumnKind::Voltage || kind == LogColumnKind::Current;
}

// What a standard header says: "measured_V", or "logic_measured_V" of a rail or channel.
LogColumn standard_column(std::string_view header, const LogNames& names) {
  LogColumn column;
  column.header = std::string(header);
  for (const LogColumnRow& row : log_column_rows()) {
    if (header == row.header) {
      column.kind = row.kind;
      return column;
    }
    const bool may_be_wide = is_reading(row.kind) || row.kind == LogColumnKind::Output ||
                             row.kind == LogColumnKind::Mode || row.kind == LogColumnKind::Quality;
    if (!may_be_wide || !header.ends_with(row.header)) continue;
    const std::string_view name = header.substr(0, header.size() - row.header.size());
    if (!name.ends_with('_')) continue;
    const std::string_view owner = name.substr(0, name.size() - 1);
    const std::optional<std::size_t> rail = names.find_rail(owner);
    column.target = rail ? rail : names.find_channel(owner);
    if (column.target) column.kind = row.kind;
  }
  return column;
}

std::optional<LogColumn> described_column(const DescribedColumn& described, const LogNames& names, std::string& why) {
  LogColumn column{described.header, described.kind, std::nullopt, described.factor, described.instrument};
  if (described.name.empty()) return column;
  column.target = described.is_rail ? names.find_rail(described.name) : names.find_channel(described.name);
  if (column.target) return column;
  why = "`" + shown_text(described.name) + "` of column `" + shown_text(described.header) + "` is " +
        (described.is_rail ? "no rail of the profile" : "no channel of the bench");
  return std::nullopt;
}

bool find_single(const LogColumns& columns, LogColumnKind kind, std::optional<std::size_t>& place, std::string& why) {
  for (std::size_t i = 0; i < columns.all.size(); ++i) {
    if (columns.all[i].kind != kind || columns.all[i].target) continue;
    if (place) {
      why = "columns `" + shown_text(columns.all[*place].header) + "` and `" + shown_text(columns.all[i].header) +
            "` are the same";
      return false;
    }
    place = i;
  }
  return true;
}

// No two columns may say the same thing.
bool check_doubles(const LogColumns& columns, std::string& why) {
  std::set<std::pair<LogColumnKind, std::optional<std::size_t>>> known;
  for (const LogColumn& column : columns.all) {
    if (column.kind == LogColumnKind::Ignored) continue;
    if (known.insert({column.kind, column.target}).second) continue;
    why = "column `" + shown_text(column.header) + "` occurs twice";
    return false;
  }
  return true;
}

}  // namespace

std::optional<std::size_t> LogColumns::find(LogColumnKind kind) const {
  for (std::size_t i = 0; i < all.size(); ++i) {
    if (all[i].kind == kind && !all[i].target) return i;
  }
  return std::nullopt;
}

std::optional<LogColumns> read_log_header(std::span<const std::string_view> fields, const LogDescription& description,
                                          const LogNames& names, std::string& why) {
  LogColumns columns;
  std::vector<bool> used(description.columns.size(), false);
  for (std::string_view field : fields) {
    while (field.starts_with(' ')) field.remove_prefix(1);
    while (field.ends_with(' ')) field.remove_suffix(1);
    const auto described = std::find_if(description.columns.begin(), description.columns.end(),
                                        [&](const DescribedColumn& column) { return column.header == field; });
    if (described == description.columns.end()) {
      columns.all.push_back(standard_column(field, names));
      continue;
    }
    used[static_cast<std::size_t>(described - description.columns.begin())] = true;
    const std::optional<LogColumn> column = described_column(*described, names, why);
    if (!column) return std::nullopt;
    columns.all.push_back(*column);
  }
  for (std::size_t i = 0; i < used.size(); ++i) {
    if (used[i]) continue;
    why = "the description names column `" + shown_text(description.columns[i].header) + "`, but the log has none";
    return std::nullopt;
  }
  if (!check_doubles(columns, why)) return std::nullopt;
  std::optional<std::size_t> time;
  if (!find_single(columns, LogColumnKind::Time, time, why) ||
      !find_single(columns, LogColumnKind::Channel, columns.channel, why) ||
      !find_single(columns, LogColumnKind::Rail, columns.rail, why)) {
    return std::nullopt;
  }
  if (!time) {
    why = "it has no column `time_s`";
    return std::nullopt;
  }
  columns.time = *time;
  const bool says_target = columns.channel || columns.rail;
  for (std::size_t i = 0; i < columns.all.size(); ++i) {
    if (!is_reading(columns.all[i].kind)) continue;
    if (!columns.all[i].target && !says_target) {
      why = "the rail or channel of column `" + shown_text(columns.all[i].header) + "` is not known";
      return std::nullopt;
    }
    columns.readings.push_back(i);
  }
  if (columns.readings.empty()) {
    why = "it has no column `measured_V` or `measured_A`, with or without the name of a rail or channel before it";
    return std::nullopt;
  }
  return columns;
}

}  // namespace rampart
