#include "tests/fuzz/targets.h"

#include <algorithm>

namespace rampart::fuzz {
namespace {

constexpr Target kTargets[] = {{"profile", profile},   {"bench", bench}, {"load", load},
                               {"link", link},         {"table", table}, {"template", table_template},
                               {"chain", chain},       {"log", log},     {"part", part},
                               {"messages", messages}, {"play", play},   {"answer", answer_lines}};

}  // namespace

std::span<const Target> targets() {
  return kTargets;
}

const Target* find_target(std::string_view name) {
  const auto* found =
      std::find_if(std::begin(kTargets), std::end(kTargets), [name](const Target& one) { return one.name == name; });
  return found == std::end(kTargets) ? nullptr : found;
}

}  // namespace rampart::fuzz
