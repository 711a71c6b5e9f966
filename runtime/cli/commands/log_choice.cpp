#include "runtime/cli/commands/log_choice.h"

#include <algorithm>

#include "lang/values/quantity.h"
#include "runtime/cli/shared/command_line.h"

namespace rampart::cli {

double seconds_of(const std::string& option, const std::string& text) {
  const std::optional<Quantity> time = parse_quantity(text);
  if (!time || time->dimension != dimension::kTime || time->value.overflowed()) {
    throw UsageError{option, "is a time, as in " + option + " 1.25s, not `" + text + "`"};
  }
  return time->value.to_double();
}

std::vector<as_run::LogRequest> LogChoice::requests() const {
  std::vector<as_run::LogRequest> requests;
  for (const std::string& log : logs) {
    if (log == "-") throw UsageError{"--log", "needs a file: a log is read more than once"};
    requests.push_back({log, std::nullopt, std::nullopt});
  }
  if (descriptions.size() > requests.size()) {
    throw UsageError{"--log-description", "is given more often than --log"};
  }
  for (std::size_t i = 0; i < descriptions.size(); ++i) requests[i].description = descriptions[i];
  for (const std::string& shift : shifts) {
    const std::size_t sign = shift.rfind('=');
    const std::string log = sign == std::string::npos ? std::string() : shift.substr(0, sign);
    if (log.empty() && requests.size() > 1) {
      throw UsageError{"--shift", "says of which log it is, as in --shift " + logs.front() + "=1.25s"};
    }
    const auto of = std::find_if(requests.begin(), requests.end(),
                                 [&](const as_run::LogRequest& one) { return log.empty() || one.path == log; });
    if (of == requests.end()) throw UsageError{"--shift", "names `" + log + "`, which is no --log"};
    of->shift_s = seconds_of("--shift", log.empty() ? shift : shift.substr(sign + 1));
  }
  return requests;
}

void add_log_choice(Command& command, LogChoice& choice, bool is_required) {
  auto log = command.option("--log", choice.logs, "CSV file with the measurements; give it once for each logger")
                 .value_name("FILE")
                 .one_value_each_time();
  if (is_required) log.required();
  command
      .option("--log-description", choice.descriptions,
              "file that describes the log and the instruments; default: the one next to the log, bench.log.yaml for "
              "bench.csv")
      .value_name("FILE")
      .one_value_each_time();
  command
      .option("--shift", choice.shifts,
              "time in the log at which the run begins, as in --shift 1.25s, or --shift bench.csv=1.25s with "
              "several logs; default: found from the edges of voltage")
      .value_name("TIME")
      .one_value_each_time();
}

}  // namespace rampart::cli
