#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "runtime/log/log_description.h"
#include "runtime/log/log_names.h"

namespace rampart {

// One column of a log, as its header and the description say together.
struct LogColumn {
  std::string header;
  LogColumnKind kind = LogColumnKind::Ignored;
  std::optional<std::size_t> target;  // that it is about; none: another column says it
  double factor = 1;
  std::optional<std::size_t> instrument;
};

struct LogColumns {
  std::vector<LogColumn> all;  // as they stand
  std::size_t time = 0;
  std::optional<std::size_t> channel;  // that says what a row is about
  std::optional<std::size_t> rail;     // likewise
  std::vector<std::size_t> readings;   // voltages and currents

  // One of this kind that is about a whole row.
  [[nodiscard]] std::optional<std::size_t> find(LogColumnKind kind) const;
};

// Reads the header of a log. `why`: what is wrong with it. Empty then.
[[nodiscard]] std::optional<LogColumns> read_log_header(std::span<const std::string_view> fields,
                                                        const LogDescription& description, const LogNames& names,
                                                        std::string& why);

}  // namespace rampart
