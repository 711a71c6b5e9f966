#pragma once

#include <optional>
#include <vector>

#include "compiler/bench/meter.h"

namespace rampart {

// What one channel reads of itself: its key `readback`. Empty after a mistake.
[[nodiscard]] std::optional<Meter> read_readback(const Field& field, FindingSink& findings);

// What the channels of a bench read of themselves, by channel; none where nothing is said of it. The bench was read
// without mistakes, and its text is among `sources`.
[[nodiscard]] std::vector<std::optional<Meter>> read_readbacks(const SourceSet& sources, const Bench& bench);

}  // namespace rampart
