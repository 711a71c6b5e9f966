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
  vary.range = {read_value(text.substr(equals + 1, dots - equals - 1)), read_value(high)};
  if (vary.range.low.dimension != vary.range.high.dimension ||
      (vary.step && vary.step->dimension != vary.range.low.dimension)) {
    throw Refused{"--vary", "the values of `" + vary.name + "` have different units"};
  }
  if (vary.range.high.value < vary.range.low.value) {
    throw Refused{"--vary", "the range of `" + vary.name + "` ends below its start"};
  }
  if (vary.step && vary.step->value.sign() <= 0)
    throw Refused{"--vary", "the step of `" + vary.name + "` is not above 0"};
  return vary;
}

Find read_find(const std::vector<std::string>& words) {
  if (words.size() != 2 || (words[0] != "least" && words[0] != "greatest")) {
    throw Refused{"--find", "takes `least NAME`, `greatest NAME` or `least duration`"};
  }
  if (words[1] != "duration") return {words[0] == "least" ? Goal::LeastValue : Goal::GreatestValue, words[1]};
  if (words[0] == "greatest") throw Refused{"--find", "knows the least duration alone"};
  return {Goal::LeastDuration, {}};
}

}  // namespace rampart::sweep
