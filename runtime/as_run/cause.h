#pragma once

#include <cstdint>
#include <span>
#include <string_view>

namespace rampart::as_run {

// What an excursion is consistent with.
enum class Cause : std::uint8_t {
  Late,
  Early,
  OutputOff,
  Tripped,
  Swapped,
  Sign,
  Format,
  Limit,
  Offset,
  Gain,
  OtherLoad,
  Sag,
  Stuck,
  Unknown
};

struct CauseRow {
  Cause kind{};
  std::string_view name;        // in JSON
  std::string_view words;       // "a late row"
  std::string_view unit;        // of its amount; empty: a share, or none
  bool is_of_sequence = false;  // where commands are not logged, it is the sequence that differs
};

[[nodiscard]] std::span<const CauseRow> cause_rows();
[[nodiscard]] const CauseRow& row_of(Cause cause);

}  // namespace rampart::as_run
