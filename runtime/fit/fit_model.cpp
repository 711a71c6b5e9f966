#include "runtime/fit/fit_model.h"

#include <algorithm>
#include <cmath>

#include "lang/job/parallel.h"
#include "runtime/as_run/run_times.h"
#include "runtime/fit/noise.h"
#include "runtime/play/simulate.h"

namespace rampart::fit {
namespace {

// How far a parameter is moved for a slope, of its range from -1 to 1.
constexpr double kMove = 0.005;
// Of one by which the residuals jump.
constexpr double kRoughMove = 0.5;
constexpr double kMostDeviations = 6;

}  // namespace

Model::Model(const as_run::LocatedRun& run, const Incidents& incidents, const std::vector<Series>& series,
             const Parameters& parameters, const Job& job)
    : run_(run), incidents_(incidents), series_(series), parameters_(parameters), job_(job) {
  for (const Series& one : series) {
    double largest = 0;
    for (const Reading& reading : one.readings) largest = std::max(largest, std::abs(reading.value));
    deviations_.push_back(std::max({one.noise, 1e-4 * largest, 1e-9}));
    weights_.emplace_back(one.readings.size(), 1 / deviations_.back());
  }
}

ExactCourses Model::play(const std::vector<double>& at) const {
  const Load load = parameters_.load_at(*run_.played().load, at);
  Incidents incidents = incidents_;
  incidents.deviations = parameters_.deviations_at(run_.table(), at);
  ExactRecorder recorder(run_.table().rails().size());
  static_cast<void>(simulate(run_.table(), run_.played().safe, load, incidents, &recorder, job_.quietly()));
  return recorder.finish();
}

Model::Times Model::times_of(const Series& series, const std::vector<double>& at) const {
  Times times;
  for (std::size_t i = 0; i < at.size(); ++i) {
    const Parameters::One& one = parameters_.all()[i];
    if (!one.is_time_of(series)) continue;
    (one.of == Parameters::Of::Clock ? times.clock : times.shift) += one.size * at[i];
  }
  return times;
}

double Model::meter_error(std::size_t series, const std::vector<double>& at, double value) const {
  double error = 0;
  for (std::size_t i = 0; i < at.size(); ++i) {
    const Parameters::One& one = parameters_.all()[i];
    if (one.index != series) continue;
    if (one.of == Parameters::Of::MeterShare) error += at[i] * series_[series].share * value;
    if (one.of == Parameters::Of::MeterOffset) error += at[i] * series_[series].offset;
  }
  return error;
}

// The mean over the window of each reading.
std::vector<double> Model::course_of(const ExactCourses& played, const Series& series, const Times& times) const {
  const ExactQuantity voltage = series.at_load ? ExactQuantity::LoadVoltage : ExactQuantity::TerminalVoltage;
  const ExactQuantity quantity = series.quantity == as_run::Measured::Voltage ? voltage : ExactQuantity::Current;
  const ExactCourse& course = played.rails[series.rail];
  std::vector<double> values;
  values.reserve(series.readings.size());
  for (const Reading& reading : series.readings) {
    // The clock is compared with that of the run in its middle.
    const double off = times.shift + times.clock * (reading.run_s - run_.duration() / 2);
    values.push_back(course.mean(quantity, reading.run_s - off, series.meter->window()));
  }
  return values;
}

std::vector<std::vector<double>> Model::read(const ExactCourses& played, const std::vector<double>& at,
                                             bool is_read) const {
  std::vector<std::vector<double>> courses;
  for (std::size_t i = 0; i < series_.size(); ++i) {
    courses.push_back(course_of(played, series_[i], times_of(series_[i], at)));
    if (!is_read) continue;
    for (double& value : courses.back()) value += meter_error(i, at, value);
  }
  return courses;
}

std::vector<std::vector<double>> Model::predict(const std::vector<double>& at, bool is_read) const {
  return read(play(at), at, is_read);
}

std::vector<double> Model::weighted(const std::vector<std::vector<double>>& courses) const {
  std::vector<double> all;
  for (std::size_t i = 0; i < series_.size(); ++i) {
    for (std::size_t k = 0; k < courses[i].size(); ++k) {
      if (weights_[i][k] > 0) all.push_back((courses[i][k] - series_[i].readings[k].value) * weights_[i][k]);
    }
  }
  return all;
}

std::vector<double> Model::residuals(const std::vector<double>& at) const {
  return weighted(predict(at, true));
}

std::pair<std::size_t, std::size_t> Model::rows_of(std::size_t series) const {
  std::size_t first = 0;
  std::size_t count = 0;
  for (std::size_t i = 0; i <= series; ++i) {
    first += count;
    count = static_cast<std::size_t>(
        std::count_if(weights_[i].begin(), weights_[i].end(), [](double weight) { return weight > 0; }));
  }
  return {first, count};
}

Linearised Model::linearise(const std::vector<double>& at) const {
  const std::size_t count = at.size();
  std::vector<std::vector<double>> moved(count);
  std::vector<double> steps(count, kMove);
  for (std::size_t i = 0; i < count; ++i) {
    if (at[i] + kMove > parameters_.bounds()[i].high) steps[i] = -kMove;
  }
  ExactCourses played;
  run_parallel(count + 1, job_.quietly(), [&](std::size_t i) {
    if (i == count) {
      played = play(at);
      return;
    }
    if (!parameters_.all()[i].is_played()) return;
    std::vector<double> other = at;
    other[i] += steps[i];
    moved[i] = residuals(other);
  });
  const std::vector<double> here = weighted(read(played, at, true));
  Linearised result{here, Matrix(here.size(), count)};
  for (std::size_t i = 0; i < count; ++i) {
    if (moved[i].empty()) continue;
    for (std::size_t row = 0; row < here.size(); ++row) result.slopes(row, i) = (moved[i][row] - here[row]) / steps[i];
  }
  add_readers(played, at, result.slopes);
  return result;
}

// Logs and meters move nothing but how the same run is read.
void Model::add_readers(const ExactCourses& played, const std::vector<double>& at, Matrix& slopes) const {
  for (std::size_t s = 0; s < series_.size(); ++s) {
    const Series& series = series_[s];
    const std::vector<double> course = course_of(played, series, times_of(series, at));
    for (std::size_t i = 0; i < at.size(); ++i) {
      const Parameters::One& one = parameters_.all()[i];
      std::vector<double> slope;
      if (one.is_time_of(series)) {
        slope = slope_in_time(played, series, at, i);
      } else if (one.of == Parameters::Of::MeterShare && one.index == s) {
        for (const double value : course) slope.push_back(series.share * value);
      } else if (one.of == Parameters::Of::MeterOffset && one.index == s) {
        slope.assign(course.size(), series.offset);
      }
      std::size_t row = rows_of(s).first;
      for (std::size_t k = 0; k < slope.size(); ++k) {
        if (weights_[s][k] > 0) slopes(row++, i) = slope[k] * weights_[s][k];
      }
    }
  }
}

// To both sides alike: where an end of a window is at a jump, the two differ.
std::vector<double> Model::slope_in_time(const ExactCourses& played, const Series& series,
                                         const std::vector<double>& at, std::size_t parameter) const {
  const double move = parameters_.bounds()[parameter].is_rough ? kRoughMove : kMove;
  std::vector<double> other = at;
  other[parameter] = at[parameter] + move;
  std::vector<double> slope = course_of(played, series, times_of(series, other));
  other[parameter] = at[parameter] - move;
  const std::vector<double> before = course_of(played, series, times_of(series, other));
  for (std::size_t k = 0; k < slope.size(); ++k) slope[k] = (slope[k] - before[k]) / (2 * move);
  return slope;
}

// Where the rail is steep, the unknown latency of each reading counts as noise too.
void Model::judge_noise(const std::vector<double>& at, bool is_first) {
  const ExactCourses played = play(at);
  const std::vector<std::vector<double>> courses = read(played, at, true);
  dropped_ = 0;
  for (std::size_t i = 0; i < series_.size(); ++i) {
    const Series& series = series_[i];
    const as_run::Logger& logger = *run_.loggers()[series.log];
    const double latency = std::hypot(series.meter->latency_high() - series.meter->latency_low(),
                                      in_seconds(logger.description.time_resolution)) /
                           std::sqrt(12);
    const double blur = is_first ? std::hypot(latency, logger.room_at(run_.duration(), run_.duration(), 0)) : latency;
    std::vector<double> steepness(courses[i].size(), 0.0);
    if (blur > 0) {
      Times times = times_of(series, at);
      times.shift += blur;
      const std::vector<double> before = course_of(played, series, times);
      times.shift -= 2 * blur;
      const std::vector<double> after = course_of(played, series, times);
      for (std::size_t k = 0; k < steepness.size(); ++k) steepness[k] = (after[k] - before[k]) / 2;
    }
    std::vector<double> off;
    for (std::size_t k = 0; k < courses[i].size(); ++k) {
      const double residual = courses[i][k] - series.readings[k].value;
      // Where it is not steep, noise alone is seen.
      if (std::abs(steepness[k]) <= deviations_[i]) off.push_back(residual);
    }
    // Of a step the standard deviation is this (JCGM 100:2008, F.2.2.1).
    const double least = std::max(series.step / std::sqrt(12), 1e-9);
    if (off.size() >= 8) deviations_[i] = std::max(robust_deviation(off), least);
    for (std::size_t k = 0; k < courses[i].size(); ++k) {
      const double deviation = std::hypot(deviations_[i], steepness[k]);
      const double residual = courses[i][k] - series.readings[k].value;
      const bool is_far = std::abs(residual) > kMostDeviations * deviation;
      weights_[i][k] = is_far ? 0 : 1 / deviation;
      dropped_ += is_far ? 1 : 0;
    }
  }
}

}  // namespace rampart::fit
