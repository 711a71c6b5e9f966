#pragma once

#include <optional>
#include <string>
#include <vector>

#include "runtime/as_run/logger.h"
#include "runtime/cli/shared/command_line.h"

namespace rampart::cli {

// The logs of a run, as the commands that read them take them.
struct LogChoice {
  std::vector<std::string> logs;
  std::vector<std::string> descriptions;  // of the first logs, one each
  std::vector<std::string> shifts;        // "1.25s", or "bench.csv=1.25s" where there are several logs

  // Throws UsageError.
  [[nodiscard]] std::vector<as_run::LogRequest> requests() const;
};

void add_log_choice(Command& command, LogChoice& choice, bool is_required);
// "100ms". Throws UsageError.
[[nodiscard]] double seconds_of(const std::string& option, const std::string& text);

}  // namespace rampart::cli
