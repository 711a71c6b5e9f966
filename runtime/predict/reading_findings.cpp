#include "runtime/predict/reading_findings.h"

#include <cmath>
#include <map>
#include <tuple>

#include "lang/findings/predicted.h"
#include "lang/values/short_text.h"

namespace rampart {
namespace {

// A reading of one rail that is not settled.
struct Unfit {
  const TakenReading* reading = nullptr;
  const Unsettled* why = nullptr;

  // One that never comes there is worse than any that is late.
  [[nodiscard]] bool is_worse_than(const Unfit& other) const {
    if (why->late_s.has_value() != other.why->late_s.has_value()) return !why->late_s;
    return why->late_s && *why->late_s > *other.why->late_s;
  }
};

// A time that is long enough, or short enough, in two digits.
double two_digits(double time, bool up) {
  if (time <= 0) return 0;
  const double step = std::pow(10.0, std::floor(std::log10(time)) - 1);
  const double steps = time / step;
  return (up ? std::ceil(steps * (1 - 1e-9)) : std::floor(steps * (1 + 1e-9))) * step;
}

void report_unfit(const std::string& rail, const Unfit& unfit, FindingSink& findings) {
  const TakenReading& reading = *unfit.reading;
  const std::string setpoint = to_text(unfit.why->setpoint_V, "V");
  if (!unfit.why->late_s) {
    findings
        .report(finding::ReadingOffSetpoint, reading.statement, reading.name, in_pass(reading.passes), rail,
                to_text(unfit.why->voltage_V, "V"), setpoint)
        .hint("dwell longer before it, or raise the current limit");
    return;
  }
  const double late = *unfit.why->late_s;
  const double rest = two_digits(reading.over_s - late, false);
  findings
      .report(finding::ReadingNotSettled, reading.statement, reading.name, in_pass(reading.passes), rail, setpoint,
              short_text(late, "s"), to_text(reading.over_s, "s"))
      .hint("dwell " + to_text(two_digits(late, true), "s") + " longer before it" +
            (rest > 0 ? ", or measure over " + to_text(rest, "s") + " or less" : ""));
}

}  // namespace

void report_readings(const Profile& profile, const Simulation& simulation, FindingSink& findings) {
  std::map<std::tuple<FileId, std::uint32_t, std::size_t>, Unfit> worst;
  for (const TakenReading& reading : simulation.readings) {
    for (std::size_t i = 0; i < reading.rails.size(); ++i) {
      if (!reading.rails[i] || !reading.rails[i]->unsettled) continue;
      const Unfit unfit{&reading, &*reading.rails[i]->unsettled};
      const auto [kept, is_new] = worst.try_emplace({reading.statement.file, reading.statement.begin, i}, unfit);
      if (!is_new && unfit.is_worse_than(kept->second)) kept->second = unfit;
    }
  }
  for (const auto& [place, unfit] : worst) report_unfit(profile.rails[std::get<2>(place)].name, unfit, findings);
}

}  // namespace rampart
