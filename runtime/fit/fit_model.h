#pragma once

#include <cstddef>
#include <utility>
#include <vector>

#include "runtime/as_run/located_run.h"
#include "runtime/fit/fit_parameters.h"
#include "runtime/fit/fit_readings.h"
#include "runtime/fit/least_squares.h"
#include "runtime/play/simulate.h"
#include "runtime/waveform/exact_course.h"

namespace rampart::fit {

// Readings against the simulation, with supplies, logs and meters that are off as the parameters say.
class Model {
 public:
  // `incidents`: of the run as it was played. All of it outlives the model.
  Model(const as_run::LocatedRun& run, const Incidents& incidents, const std::vector<Series>& series,
        const Parameters& parameters, const Job& job);

  // What every reading would be, series after series. `is_read`: as the meters show it, else as it is.
  [[nodiscard]] std::vector<std::vector<double>> predict(const std::vector<double>& at, bool is_read) const;
  // Of all readings that count, series after series, in units of their deviations.
  [[nodiscard]] std::vector<double> residuals(const std::vector<double>& at) const;
  [[nodiscard]] Linearised linearise(const std::vector<double>& at) const;

  // How noisy the readings are is told from how they lie around the prediction. Those that are six deviations off count
  // no more. `is_first`: nobody knows yet how far the logs are shifted.
  void judge_noise(const std::vector<double>& at, bool is_first);
  // The rows of linearise() that are of a series.
  [[nodiscard]] std::pair<std::size_t, std::size_t> rows_of(std::size_t series) const;
  [[nodiscard]] double deviation(std::size_t series) const { return deviations_[series]; }
  // Whether a reading of a series is not too far off.
  [[nodiscard]] bool is_counted(std::size_t series, std::size_t reading) const { return weights_[series][reading] > 0; }
  [[nodiscard]] std::size_t dropped() const { return dropped_; }

 private:
  [[nodiscard]] ExactCourses play(const std::vector<double>& at) const;
  // How the times of a log are off, s and as a share.
  struct Times {
    double shift = 0;
    double clock = 0;
  };
  [[nodiscard]] Times times_of(const Series& series, const std::vector<double>& at) const;
  [[nodiscard]] std::vector<double> course_of(const ExactCourses& played, const Series& series,
                                              const Times& times) const;
  // What every reading of this run would be; with `is_read` as the meters show it.
  [[nodiscard]] std::vector<std::vector<double>> read(const ExactCourses& played, const std::vector<double>& at,
                                                      bool is_read) const;
  // By a parameter of a log.
  [[nodiscard]] std::vector<double> slope_in_time(const ExactCourses& played, const Series& series,
                                                  const std::vector<double>& at, std::size_t parameter) const;
  void add_readers(const ExactCourses& played, const std::vector<double>& at, Matrix& slopes) const;
  [[nodiscard]] double meter_error(std::size_t series, const std::vector<double>& at, double value) const;
  [[nodiscard]] std::vector<double> weighted(const std::vector<std::vector<double>>& courses) const;

  const as_run::LocatedRun& run_;
  const Incidents& incidents_;
  const std::vector<Series>& series_;
  const Parameters& parameters_;
  const Job& job_;
  std::vector<double> deviations_;            // by series
  std::vector<std::vector<double>> weights_;  // by series and reading: 1 / deviation; 0: does not count
  std::size_t dropped_ = 0;
};

}  // namespace rampart::fit
