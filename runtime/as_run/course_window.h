#pragma once

#include <cstddef>
#include <deque>
#include <optional>

#include "runtime/waveform/waveform.h"

namespace rampart::as_run {

// Least and greatest value.
struct Band {
  double low = 0;
  double high = 0;

  void include(const Band& other);
  void include(double value);
};

// Two quantities of a rail, as a meter reads them.
inline constexpr std::size_t kMeasured = 2;
enum class Measured : std::uint8_t { Voltage, Current };
[[nodiscard]] inline std::size_t place_of(Measured quantity) {
  return static_cast<std::size_t>(quantity);
}

// One rail of one recording, looked at through a window that moves on. What lies further back than `kept` s is
// forgotten, so a run of any length takes the memory of what is in the window.
class CourseWindow {
 public:
  // `voltage`: at the terminals or at the load.
  CourseWindow(const RailWaveform& rail, WaveQuantity voltage, double kept);

  // What the mean over `window` s keeps within, for every end of the window from `from` to `to`. Before the run its
  // first values hold, and after it its last. `from` never goes back by more than is kept.
  [[nodiscard]] Band means(Measured quantity, double from, double to, double window);
  // Least and greatest value from `from` to `to`.
  [[nodiscard]] Band values(Measured quantity, double from, double to);
  // Whether the output is on from `from` to `to`: at all times, at none, or empty.
  [[nodiscard]] std::optional<bool> is_on(double from, double to);
  // The current limit, A; 0 while the output is off.
  [[nodiscard]] double limit_at(double time);

 private:
  // Values right after a sample; between two samples they are on a straight line.
  struct Point {
    double time = 0;
    double value[kMeasured] = {0, 0};
    double sum[kMeasured] = {0, 0};  // integral up to here
    double limit = 0;
  };

  void forget_before(double time);
  void reach(double time);
  // The last point at or before `time`, or the first that is kept.
  [[nodiscard]] std::size_t place(double time) const;
  // The same, from a place before it on.
  [[nodiscard]] std::size_t place_from(std::size_t i, double time) const;
  // `i`: the place of the time.
  [[nodiscard]] double value_at(std::size_t i, std::size_t quantity, double time, bool left) const;
  [[nodiscard]] double sum_at(std::size_t i, std::size_t quantity, double time) const;

  WaveCursor cursor_;
  WaveQuantity voltage_;
  double kept_;
  std::deque<Point> points_;
  bool is_over_ = false;
  double newest_ = 0;  // the latest time that was asked for
};

}  // namespace rampart::as_run
