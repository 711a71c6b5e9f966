#pragma once

#include <stdexcept>
#include <string>

#include "compiler/rules/rules.h"
#include "tests/support/resolved.h"

namespace rampart::test {

// One supply with three exact channels: no accuracy, skew or delay, and counts so fine that they play no part.
inline Bench three_channels() {
  SupplySpec supply;
  supply.minimum_step = "1 ms";
  supply.resolution = "1 ms";
  supply.interpolation = Interpolation::Linear;
  ChannelSpec channel;
  channel.voltage_resolution = "1 uV";
  supply.channels.clear();
  for (const char* name : {"ch1", "ch2", "ch3"}) {
    channel.name = name;
    supply.channels.push_back(channel);
  }
  return make_bench({supply});
}

// The rules of a profile with the rails a, b and c, judged on its setpoints.
class Judged {
 public:
  explicit Judged(const std::string& text, const Bench& bench = three_channels())
      : resolved_(bench, "rail a on s1.ch1\nrail b on s1.ch2\nrail c on s1.ch3\n" + text) {
    if (!resolved_.profile) throw std::runtime_error("no profile: " + resolved_.places());
    const Profile& profile = *resolved_.profile;
    timeline_ = build_timeline(profile, profile.run, TimelineStart::Off, resolved_.findings);
    if (!timeline_ || !resolved_.errors().empty()) throw std::runtime_error("errors: " + resolved_.places());
    results_ = judge_rules(Table(profile, resolved_.bench, *timeline_));
  }

  [[nodiscard]] const RuleResult& operator[](const std::string& name) const {
    for (const RuleResult& result : results_) {
      if (resolved_.profile->rules[result.rule].name == name) return result;
    }
    throw std::runtime_error("no rule " + name);
  }
  // The names of the rules that are broken, in their order.
  [[nodiscard]] std::string broken() const {
    std::string names;
    for (const RuleResult& result : results_) {
      if (!result.holds) names += (names.empty() ? "" : " ") + resolved_.profile->rules[result.rule].name;
    }
    return names;
  }
  // "LINE:COLUMN", without the lines of the rails.
  [[nodiscard]] std::string place(const RuleResult& result) const {
    const Position at = resolved_.sources[result.statement.file].position(result.statement.begin);
    return std::to_string(at.line - 3) + ":" + std::to_string(at.column);
  }

 private:
  Resolved resolved_;
  std::optional<Timeline> timeline_;
  std::vector<RuleResult> results_;
};

}  // namespace rampart::test
