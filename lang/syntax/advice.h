#pragma once

#include <optional>
#include <string>

namespace rampart {

// What to do about a mistake in a text, and what to write in place of what stands there, if just that is meant.
struct Advice {
  std::string hint{};
  std::optional<std::string> instead{};
};

}  // namespace rampart
