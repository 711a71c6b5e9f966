#include "runtime/bench_run/words.h"

#include <csignal>
#include <cstring>

#include "lang/text/overloaded.h"
#include "lang/values/short_text.h"

namespace rampart::bench_run {
namespace {

// Bits of the standard event status register (IEEE 488.2, 11.5.1.1).
constexpr int kOperationComplete = 1;
constexpr int kRequestControl = 2;
constexpr int kUserRequest = 64;
constexpr int kPowerOn = 128;

}  // namespace

std::string short_time(Nanoseconds time) {
  return short_text(static_cast<double>(time.count()) * 1e-9, "s");
}

std::string wait_text(const TableWait& wait) {
  const std::string what =
      std::visit(Overloaded{[](const LineWait& line) { return line.line + (line.high ? " high" : " low"); },
                            [](const ConditionWait& condition) { return condition.text; },
                            [](const OperatorWait& asked) { return "operator \"" + asked.prompt + "\""; }},
                 wait.what);
  return what + " within " + to_text(wait.within);
}

std::string rows_text(const TableInstant& instant) {
  constexpr std::size_t kMostNames = 3;
  std::string names;
  const std::size_t shown = instant.rows.size() <= kMostNames ? instant.rows.size() : kMostNames - 1;
  for (std::size_t i = 0; i < shown; ++i) names += (i == 0 ? "" : ", ") + instant.rows[i].name;
  if (shown < instant.rows.size()) names += " and " + std::to_string(instant.rows.size() - shown) + " more";
  return (instant.rows.size() == 1 ? "row of " : "rows of ") + names;
}

std::string trip_words(const std::string& channel, std::string_view cause) {
  if (cause != kUnknownCause) return channel + " tripped: " + std::string(cause);
  return channel + " went off, and no protection says that it tripped";
}

std::string signal_words(int number) {
  switch (number) {
    case SIGINT:
      return "stopped by Ctrl-C";
    case SIGHUP:
      return "stopped because the terminal was closed (HUP)";
    case SIGQUIT:
      return "stopped by Ctrl-\\";
    case SIGXCPU:
      return "stopped by the limit on processor time (XCPU)";
    case SIGPWR:
      return "stopped because the mains supply fails (PWR)";
    default:
      break;
  }
  const char* name = sigabbrev_np(number);
  return "stopped by a signal (" + (name != nullptr ? std::string(name) : "number " + std::to_string(number)) + ")";
}

std::string event_words(const std::string& supply, int bits) {
  if ((bits & kPowerOn) != 0) return supply + " was switched off and on";
  if ((bits & kUserRequest) != 0) return "someone used the front panel of " + supply;
  return supply + " reports an error (event status " + std::to_string(bits) + ")";
}

bool is_reason_to_stop(int bits) {
  return (bits & ~(kOperationComplete | kRequestControl)) != 0;
}

}  // namespace rampart::bench_run
