#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "lang/files/files.h"
#include "lang/job/job.h"
#include "runtime/as_run/course_window.h"
#include "runtime/as_run/logger.h"
#include "runtime/load/load.h"
#include "runtime/predict/answer.h"

// What the load file should say, so that the next prediction is what the log has.
namespace rampart::fit {

// A value of the load that was written with a tolerance.
struct FittedValue {
  std::string name;  // "resistance of resistor 1 of logic"
  std::string unit;
  Toleranced design;
  double estimate = 0;     // the design's where it is not determined
  double noise_error = 0;  // standard error by the noise of the readings
  double meter_error = 0;  // by what meters, supplies and other values may be off
  bool is_determined = false;
  bool is_at_end = false;  // of its tolerance: it may lie beyond
  std::string why;         // it is not determined
  [[nodiscard]] double standard_error() const;
};

// How far the readings of one quantity lie from the prediction: root of the mean square.
struct Residual {
  std::string rail;
  as_run::Measured quantity{};
  std::string log;
  std::size_t readings = 0;  // without those that are too far off
  double before = 0;
  double after = 0;        // with the values as they are written
  double noise = 0;        // standard deviation of a reading
  double correlation = 0;  // of a reading with the one before
  double widening = 1;     // by how much its correlations widen the error of a mean
  double allowed = 0;      // by the meter's accuracy, at the largest reading
};

struct Fit {
  std::vector<FittedValue> values;
  std::vector<Residual> residuals;
  std::size_t dropped = 0;  // readings that are too far off to count
  int rounds = 0;
  std::vector<std::string> left_out;
  std::string file;  // the load file with the estimates

  // Values that the log determines.
  [[nodiscard]] std::ptrdiff_t determined() const;
};

struct Fitted {
  Answer answer;
  std::optional<Fit> fit;  // none where something is missing or the run was not found
};

// Finds the run of a profile in its logs, and estimates the values of the load that have a tolerance, each within it.
// Throws JobStopped.
[[nodiscard]] Fitted fit_load(Files& files, const std::string& profile, const CompileOptions& options,
                              const std::vector<as_run::LogRequest>& logs, const Job& job = {});

}  // namespace rampart::fit
