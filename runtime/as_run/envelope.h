#pragma once

#include <optional>
#include <vector>

#include "runtime/as_run/course_window.h"
#include "runtime/as_run/meters.h"
#include "runtime/as_run/recordings.h"

namespace rampart::as_run {

// The time stamps, in the run, that a reading may have, s.
struct Stamp {
  double from = 0;
  double to = 0;
};

// What a reading of a rail may be. With all recordings of the run it is a (tau, epsilon)-conformance (H. Abbas,
// H. Mittelmann, G. Fainekos, "Formal property verification in a conformance testing framework", MEMOCODE 2014): some
// time within the stamp, some run that the supplies' accuracy allows, and the meter's error.
class RailEnvelope {
 public:
  // `kept`: how far back stamps may go again, s. `pulse`: the period of what the load does by itself, whose phase
  // nobody knows; 0 where there is none.
  RailEnvelope(const Recordings& recordings, std::size_t rail, bool at_load, double kept, double pulse);

  struct Expected {
    Band band;             // of the reading
    double predicted = 0;  // by the nominal run, at the middle of the stamp
    double error = 0;      // of the meter, of that
  };
  [[nodiscard]] Expected expect(Measured quantity, const RailMeter& meter, const Stamp& stamp);

  // Whether the output is on: at all times that the reading may be of and in all runs, in none, or empty.
  [[nodiscard]] std::optional<bool> is_on(const RailMeter& meter, const Stamp& stamp);
  // By how many A the current changes with each V that the voltage is off, as the runs say.
  [[nodiscard]] double conductance(const RailMeter& meter, const Stamp& stamp);
  // What the nominal run does from `from` to `to`.
  [[nodiscard]] Band nominal_between(Measured quantity, double from, double to) {
    return windows_.front().values(quantity, from, to);
  }
  // Of the nominal run, A.
  [[nodiscard]] double limit_at(double time) { return windows_.front().limit_at(time); }

 private:
  // The ends of the windows that the reading may be the mean over.
  [[nodiscard]] Stamp ends_of(const RailMeter& meter, const Stamp& stamp) const;
  [[nodiscard]] double mean(CourseWindow& window, Measured quantity, double end, double length) {
    return window.means(quantity, end, end, length).low;
  }

  std::vector<CourseWindow> windows_;  // of the nominal run first
  struct LoadWindow {
    std::size_t value = 0;
    CourseWindow window;
  };
  std::vector<LoadWindow> loads_;
  double pulse_;
};

}  // namespace rampart::as_run
