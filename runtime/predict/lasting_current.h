#pragma once

#include <cstddef>
#include <cstdint>
#include <deque>
#include <vector>

#include "runtime/rail/course_sink.h"

namespace rampart {

// A current that stands for less than this, s, drops little charge on the leads: that of a stair of a ramp. Common
// practice, no source.
inline constexpr double kLastingSeconds = 1e-3;

// Finds the highest current that each rail keeps up at its terminals for kLastingSeconds. Spells are told to within an
// eighth of that, shorter ones rather not counted.
class LastingCurrent final : public CourseSink {
 public:
  explicit LastingCurrent(std::size_t rails) : tracks_(rails) {}

  void take(std::size_t index, const RailRun& rail, double sign, const Instant& from, double length) override;
  void repeat(const Instant& /*from*/, const Instant& /*to*/, std::int64_t /*times*/) override {}
  // By rail, A.
  [[nodiscard]] std::vector<double> currents() const;

 private:
  // Part of a piece with the lower of the currents at its ends.
  struct Section {
    double length = 0;
    double current = 0;
  };
  struct Track {
    std::deque<Section> last;  // as many as take kLastingSeconds
    double length = 0;         // of these
    double highest = 0;
  };
  static void add(Track& track, const Section& section);

  std::vector<Track> tracks_;
};

}  // namespace rampart
