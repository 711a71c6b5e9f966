#include "runtime/as_run/run_clock.h"

#include <algorithm>

namespace rampart::as_run {

void RunClock::delay(double planned, double late, double width) {
  delays_.push_back({planned, late, width});
}

double RunClock::run_of(double log) const {
  const double elapsed = (log - start_) / rate_;
  // The last delay that has come to its end.
  const auto after = std::partition_point(
      delays_.begin(), delays_.end(), [elapsed](const Delay& delay) { return delay.planned + delay.late <= elapsed; });
  const double late = after == delays_.begin() ? 0 : (after - 1)->late;
  const double run = elapsed - late;
  return after == delays_.end() ? run : std::min(run, after->planned);
}

double RunClock::late_at(double run) const {
  const auto after =
      std::partition_point(delays_.begin(), delays_.end(), [run](const Delay& delay) { return delay.planned <= run; });
  return after == delays_.begin() ? 0 : (after - 1)->late;
}

double RunClock::blur_at(double run) const {
  const auto after =
      std::partition_point(delays_.begin(), delays_.end(), [run](const Delay& delay) { return delay.planned <= run; });
  double blur = after == delays_.begin() ? 0 : (after - 1)->width;
  if (after != delays_.end() && after->planned - run <= after->width) blur = std::max(blur, after->width);
  return blur;
}

double RunClock::log_of(double run) const {
  return start_ + rate_ * (run + late_at(run));
}

}  // namespace rampart::as_run
