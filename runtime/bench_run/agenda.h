#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "runtime/bench_run/play_table.h"

namespace rampart::bench_run {

// In the order in which they come at one instant, all before its rows.
enum class Act : std::uint8_t { EndMeasurement, Mark, BeginMeasurement };
struct Due {
  Nanoseconds time{0};  // in the segment
  Act act = Act::Mark;
  std::string name;
  Nanoseconds over{0};  // of a measurement
};

// What happens within a segment besides its rows, by time.
class Agenda {
 public:
  Agenda() = default;
  explicit Agenda(const SegmentBegin& begin);

  [[nodiscard]] std::optional<Nanoseconds> next_time() const;
  // The next one that is due at this time or before, which is then done with. Null: none is.
  [[nodiscard]] const Due* next_before(Nanoseconds time);

 private:
  std::vector<Due> all_;
  std::size_t next_ = 0;
};

}  // namespace rampart::bench_run
