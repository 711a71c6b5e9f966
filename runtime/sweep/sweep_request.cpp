#include "runtime/sweep/sweep.h"

namespace rampart::sweep {
namespace {

constexpr const char* kForm = "is written NAME=LOW..HIGH or \"NAME=LOW..HIGH step S\", each with its unit";

std::string_view trimmed(std::string_view text) {
  const std::size_t begin = text.find_first_not_of(' ');
  if (begin == std::string_view::npos) return {};
  return text.substr(begin, text.find_last_not_of(' ') - begin + 1);
}

Quantity read_value(std::string_view text) {
  const std::optional<Quantity> value = parse_quantity(trimmed(text));
  if (!value || value->value.overflowed()) {
    throw Refused{"--vary", "`" + std::string(trimmed(text)) + "` is not a value: it " + kForm};
  }
  return *value;
}

}  // namespace

Vary read_vary(std::string_view text) {
  const std::size_t equals = text.find('=');
  const std::size_t dots = text.find("..");
  if (equals == std::string_view::npos || dots == std::string_view::npos || dots < equals)
    throw Refused{"--vary", kForm};
  Vary vary;
  vary.name = trimmed(text.substr(0, equals));
  if (vary.name.empty()) throw Refused{"--vary", kForm};
  std::string_view high = text.substr(dots + 2);
  if (const std::size_t step = high.find(" step "); step != std::string_view::npos) {
    vary.step = read_value(high.substr(step + 6));
    high = high.substr(0, step);
  }
  const std::string_view low = text.substr(equals + 1, dots - equals - 1);
  vary.range = {read_value(low), read_value(high)};
  vary.is_bare = unit_in(trimmed(low)).empty() && unit_in(trimmed(high)).empty();
  if (vary.range.low.dimension != vary.range.high.dimension ||
      (vary.step && vary.step->dimension != vary.range.low.dimension)) {
    throw Refused{"--vary", "the values of `" + vary.name + "` have different units: each needs its own, 0 too"};
  }
  if (vary.range.high.value < vary.range.low.value) {
    throw Refused{"--vary", "the range of `" + vary.name + "` ends below its start"};
  }
  if (vary.step && vary.step->value.sign() <= 0)
    throw Refused{"--vary", "the step of `" + vary.name + "` is not above 0"};
  return vary;
}

Find read_find(const std::vector<std::string>& words) {
  constexpr std::string_view kEnergy = "energy(";
  if (words.size() != 2 || (words[0] != "least" && words[0] != "greatest")) {
    throw Refused{"--find", "takes `least NAME`, `greatest NAME`, `least duration` or `least \"energy(RAIL|total)\"`"};
  }
  const bool is_energy = words[1].starts_with(kEnergy) && words[1].ends_with(')');
  if (words[1] != "duration" && !is_energy) {
    return {words[0] == "least" ? Goal::LeastValue : Goal::GreatestValue, words[1]};
  }
  if (words[0] == "greatest") {
    throw Refused{"--find", std::string("finds the least ") + (is_energy ? "energy" : "duration") + " only"};
  }
  if (!is_energy) return {Goal::LeastDuration, {}};
  return {Goal::LeastEnergy, words[1].substr(kEnergy.size(), words[1].size() - kEnergy.size() - 1)};
}

double read_keep(std::string_view text) {
  const std::optional<Quantity> share = parse_quantity(trimmed(text));
  const bool is_share = share && share->dimension == dimension::kNone && !share->value.overflowed() &&
                        share->value.sign() >= 0 && share->value < Rational(1);
  if (!is_share) throw Refused{"--keep", "takes the share of each limit that must be left, as in --keep 2%"};
  return share->value.to_double();
}

}  // namespace rampart::sweep
