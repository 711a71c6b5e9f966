#include "runtime/sweep/subject.h"

#include <algorithm>
#include <string>
#include <utility>

#include "runtime/sweep/value_grid.h"

namespace rampart::sweep {
namespace {

const ParameterValue& find_parameter(const Profile& profile, const std::string& name, const std::string& option) {
  std::vector<std::string> names;
  for (const ParameterValue& parameter : profile.parameters) {
    if (parameter.name == name) return parameter;
    names.push_back(parameter.name);
  }
  const std::string nearest = nearest_name(name, names);
  throw Refused{option, "the profile has no parameter `" + name + "`" +
                            (nearest.empty() ? "" : ": did you mean `" + nearest + "`?")};
}

Subject subject_of(const Profile& profile, const Vary& vary) {
  const ParameterValue& parameter = find_parameter(profile, vary.name, "--vary");
  if (parameter.value.dimension != vary.range.low.dimension) {
    const std::string unit = unit_text(parameter.value.dimension);
    const std::string given = unit_text(vary.range.low.dimension);
    throw Refused{"--vary", "`" + vary.name + "` " + (unit.empty() ? "has no unit" : "is in " + unit) + ", " +
                                (given.empty() ? "and the range has no unit" : "not in " + given)};
  }
  const auto& declared = parameter.range;
  if (declared && (vary.range.low.value < declared->low.value || declared->high.value < vary.range.high.value)) {
    const auto range_text = [&](const Range<Quantity>& range) {
      return "from " + parameter_text(range.low, *declared) + " to " + parameter_text(range.high, *declared);
    };
    const bool lacks_unit = vary.is_bare && parameter_text(declared->low, *declared).ends_with('%');
    throw Refused{"--vary", "the range of `" + vary.name + "` in the profile is " + range_text(*declared) + ", not " +
                                range_text(vary.range) +
                                (lacks_unit ? ": write % after both numbers, because 1 alone is 100 %" : "")};
  }
  return {parameter, vary.range, vary.step};
}

// What the value is looked for of.
std::vector<Subject> subjects_of_find(const Profile& profile, const std::string& wanted,
                                      std::vector<Subject> subjects) {
  const ParameterValue& parameter = find_parameter(profile, wanted, "--find");
  for (const Subject& subject : subjects) {
    if (subject.parameter.name == wanted) continue;
    throw Refused{"--find", "looks for a value of `" + wanted + "` only: leave out --vary " + subject.parameter.name +
                                ", or give that parameter a value with --set"};
  }
  if (!subjects.empty()) return subjects;
  if (!parameter.range) {
    throw Refused{"--find", "`" + wanted + "` has no range: give one with --vary " + wanted + "=LOW..HIGH"};
  }
  return {{parameter, *parameter.range, std::nullopt}};
}

bool is_of_value(const Find& find) {
  return find.goal == Goal::LeastValue || find.goal == Goal::GreatestValue;
}

// A number of passes or the like.
bool counts(const Subject& subject) {
  return subject.range.low.dimension == dimension::kNone && subject.range.low.value.is_whole() &&
         subject.range.high.value.is_whole() && subject.parameter.value.value.is_whole();
}

// What the supplies can set, a whole number, or else a thousandth of the range.
Rational step_of(const Compiled& compiled, const Subject& subject) {
  const Quantity& low = subject.range.low;
  const Quantity& high = subject.range.high;
  if (counts(subject)) return 1;
  const auto held = [&](const Quantity& value) {
    FindingSink findings;
    const Held at{subject.parameter.name, value};
    return with_values(compiled, {&at, 1}, findings);
  };
  const Compiled at_low = held(low);
  const Compiled at_high = held(high);
  if (at_low.profile() != nullptr && at_high.profile() != nullptr && low.value < high.value) {
    const std::optional<Rational> step =
        protection_step(*at_low.profile(), *at_high.profile(), high.value - low.value, *compiled.bench());
    if (step && !setting_text({*step, low.dimension}, subject.range).empty()) return *step;
  }
  return settable_step(*compiled.profile(), *compiled.bench(), low.dimension)
      .value_or(thousandth({low.value, high.value}));
}

}  // namespace

std::vector<Subject> subjects_of(const Profile& profile, const Request& request) {
  std::vector<Subject> subjects;
  for (const Vary& vary : request.vary) {
    subjects.push_back(subject_of(profile, vary));
    const auto is_it = [&](const Subject& subject) { return subject.parameter.name == vary.name; };
    if (std::count_if(subjects.begin(), subjects.end(), is_it) > 1) {
      throw Refused{"--vary", "names `" + vary.name + "` twice"};
    }
  }
  if (request.find && is_of_value(*request.find)) {
    return subjects_of_find(profile, request.find->name, std::move(subjects));
  }
  if (!request.vary.empty()) return subjects;
  bool has_range = false;
  for (const ParameterValue& parameter : profile.parameters) {
    has_range = has_range || parameter.range;
    if (parameter.range && !parameter.set) subjects.push_back({parameter, *parameter.range, std::nullopt});
  }
  if (subjects.empty()) {
    throw Refused{"--vary", has_range ? "is needed, because --set gives each parameter that has a range"
                                      : "is needed, because no parameter of the profile has a range"};
  }
  return subjects;
}

std::optional<RailId> rail_of_energy(const Profile& profile, const Request& request) {
  if (!request.find || request.find->goal != Goal::LeastEnergy || request.find->name == "total") return std::nullopt;
  std::vector<std::string> names;
  for (std::size_t i = 0; i < profile.rails.size(); ++i) {
    if (profile.rails[i].name == request.find->name) return RailId{static_cast<std::uint32_t>(i)};
    names.push_back(profile.rails[i].name);
  }
  const std::string nearest = nearest_name(request.find->name, names);
  throw Refused{"--find", "the profile has no rail `" + request.find->name + "`" +
                              (nearest.empty() ? "" : ": did you mean `" + nearest + "`?")};
}

ScanSubject scan_subject(const Compiled& compiled, const Subject& subject) {
  const Range<Rational> range{subject.range.low.value, subject.range.high.value};
  const Rational step = subject.step ? subject.step->value : step_of(compiled, subject);
  const Rational values = (range.high - range.low) / step;
  if (values.overflowed() || Rational(kMostValues) < values) {
    throw Refused{"--vary", "`" + subject.parameter.name +
                                "` has more than 1000000000 values: give a larger step with --vary \"" +
                                subject.parameter.name + "=LOW..HIGH step S\""};
  }
  const ValueGrid grid(range, step, subject.step ? range.low : Rational(0), subject.parameter.value.value);
  const std::int64_t scanned = grid.count() <= kAllTried ? kAllTried : kScanned;
  return {subject.parameter.name, grid, subject.range, {step, subject.range.low.dimension}, {}, scanned, false};
}

}  // namespace rampart::sweep
