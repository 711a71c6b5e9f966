#pragma once

#include <cstdint>
#include <vector>

#include "runtime/answer/simulation.h"

namespace rampart::cli {

// One line in the list of events: an event, or several spells in a row: of a rail in constant current, as the stairs of
// a ramp into a capacitor make them, or of a converter that hunts.
struct EventLine {
  const Event* first = nullptr;
  std::int64_t spells = 0;  // above 1: so many, the last of which ended at `until_s`
  double until_s = 0;
};

// The events as told to a reader: without momentary modes, and with spells of a rail put together where nothing else
// happens to it between them. Points into `events`.
[[nodiscard]] std::vector<EventLine> event_lines(const std::vector<Event>& events);

}  // namespace rampart::cli
