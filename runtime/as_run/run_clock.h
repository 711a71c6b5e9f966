#pragma once

#include <vector>

namespace rampart::as_run {

// The time of a log as the time of the run. Where commands are logged, the run stands still while it waits for a row
// that is late, and what comes after is as late as that until another row says otherwise.
class RunClock {
 public:
  // The run begins at `start` of the log, whose clock is fast by `error`.
  RunClock(double start, double error) : start_(start), rate_(1 + error) {}

  // From `planned` of the run on, all is `late` s later, or by up to `width` less. By time; planned + late does not
  // fall.
  void delay(double planned, double late, double width = 0);

  // As much later as by another clock.
  void delay_as(const RunClock& other) { delays_ = other.delays_; }
  // By how much what is planned for a time of the run is late, s.
  [[nodiscard]] double late_at(double run) const;
  // How far what happened around a time of the run may be from it, s.
  [[nodiscard]] double blur_at(double run) const;

  [[nodiscard]] double run_of(double log) const;
  [[nodiscard]] double log_of(double run) const;

 private:
  struct Delay {
    double planned = 0;
    double late = 0;
    double width = 0;
  };
  double start_;
  double rate_;
  std::vector<Delay> delays_;  // by time
};

}  // namespace rampart::as_run
