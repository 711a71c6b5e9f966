#include "runtime/fit/fit_model.h"

#include <algorithm>
#include <cmath>

#include "lang/job/parallel.h"
#include "runtime/as_run/run_times.h"
#include "runtime/fit/noise.h"

namespace rampart::fit {
namespace {

// How far a parameter is moved for a slope, of its range from -1 to 1.
constexpr double kMove = 0.05;
constexpr double kMostDeviations = 6;

}  // namespace

Model::Model(const as_run::LocatedRun& run, const as_run::Recording& nominal, const std::vector<Series>& series,
             const Parameters& parameters, const Job& job)
    : run_(run), nominal_(nominal), series_(series), parameters_(parameters), job_(job) {
  for (const Series& one : series) {
    double largest = 0;
    for (const Reading& reading : one.readings) largest = std::max(largest, std::abs(reading.value));
    deviations_.push_back(std::max({one.noise, 1e-4 * largest, 1e-9}));
    weights_.emplace_back(one.readings.size(), 1 / deviations_.back());
  }
}

as_run::Recording Model::play(const std::vector<double>& at) const {
  const Load load = parameters_.load_at(*run_.played().load, at);
  as_run::Played played = run_.played();
  played.load = &load;
  Incidents incidents;
  incidents.deviations = parameters_.deviations_at(run_.table(), at);
  incidents.waits = run_.waits();
  return as_run::record_run(played, incidents, &nominal_.simulation, job_.quietly());
}

double Model::shift_of(const Series& series, const std::vector<double>& at) const {
  for (std::size_t i = 0; i < at.size(); ++i) {
    const Parameters::One& one = parameters_.all()[i];
    if (one.of == Parameters::Of::Shift && one.index == series.log) return one.size * at[i];
  }
  return 0;
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
std::vector<double> Model::course_of(const as_run::Recording& recording, const Series& series, double shift) const {
  const WaveQuantity voltage = series.at_load ? WaveQuantity::LoadVoltage : WaveQuantity::TerminalVoltage;
  const double window = series.meter->window();
  as_run::CourseWindow course(recording.waveforms.rails[series.rail], voltage, 2 * window + 1);
  std::vector<double> values;
  values.reserve(series.readings.size());
  for (const Reading& reading : series.readings) {
    const double end = reading.run_s - shift;
    values.push_back(course.means(series.quantity, end, end, window).low);
  }
  return values;
}

std::vector<std::vector<double>> Model::predict(const std::vector<double>& at, bool is_read) const {
  const as_run::Recording recording = play(at);
  std::vector<std::vector<double>> courses;
  for (std::size_t i = 0; i < series_.size(); ++i) {
    courses.push_back(course_of(recording, series_[i], shift_of(series_[i], at)));
    if (!is_read) continue;
    for (double& value : courses.back()) value += meter_error(i, at, value);
  }
  return courses;
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
  std::vector<double> here;
  run_parallel(count + 1, job_.quietly(), [&](std::size_t i) {
    if (i == count) {
      here = residuals(at);
      return;
    }
    if (!parameters_.all()[i].is_played()) return;
    std::vector<double> other = at;
    other[i] += steps[i];
    moved[i] = residuals(other);
  });
  Linearised result{here, Matrix(here.size(), count)};
  for (std::size_t i = 0; i < count; ++i) {
    if (moved[i].empty()) continue;
    for (std::size_t row = 0; row < here.size(); ++row) result.slopes(row, i) = (moved[i][row] - here[row]) / steps[i];
  }
  // Logs and meters move nothing but how the same run is read.
  const as_run::Recording recording = play(at);
  for (std::size_t s = 0; s < series_.size(); ++s) {
    const double shift = shift_of(series_[s], at);
    const std::vector<double> course = course_of(recording, series_[s], shift);
    for (std::size_t i = 0; i < count; ++i) {
      const Parameters::One& one = parameters_.all()[i];
      const bool is_shift = one.of == Parameters::Of::Shift && one.index == series_[s].log;
      const bool is_share = one.of == Parameters::Of::MeterShare && one.index == s;
      const bool is_offset = one.of == Parameters::Of::MeterOffset && one.index == s;
      if (!is_shift && !is_share && !is_offset) continue;
      const std::vector<double> later =
          is_shift ? course_of(recording, series_[s], shift + kMove * one.size) : std::vector<double>();
      std::size_t row = rows_of(s).first;
      for (std::size_t k = 0; k < course.size(); ++k) {
        if (weights_[s][k] <= 0) continue;
        const double slope = is_shift   ? (later[k] - course[k]) / kMove
                             : is_share ? series_[s].share * course[k]
                                        : series_[s].offset;
        result.slopes(row++, i) = slope * weights_[s][k];
      }
    }
  }
  return result;
}

// Where the rail is steep, the unknown latency of each reading counts as noise too.
void Model::judge_noise(const std::vector<double>& at, bool drops) {
  const std::vector<std::vector<double>> courses = predict(at, true);
  const as_run::Recording recording = play(at);
  dropped_ = 0;
  for (std::size_t i = 0; i < series_.size(); ++i) {
    const Series& series = series_[i];
    const double blur = std::hypot(series.meter->latency_high() - series.meter->latency_low(),
                                   in_seconds(run_.loggers()[series.log]->description.time_resolution)) /
                        std::sqrt(12);
    std::vector<double> steepness(courses[i].size(), 0.0);
    if (blur > 0) {
      const double shift = shift_of(series, at);
      const std::vector<double> before = course_of(recording, series, shift + blur);
      const std::vector<double> after = course_of(recording, series, shift - blur);
      for (std::size_t k = 0; k < steepness.size(); ++k) steepness[k] = (after[k] - before[k]) / 2;
    }
    std::vector<double> off;
    for (std::size_t k = 0; k < courses[i].size(); ++k) {
      const double residual = courses[i][k] - series.readings[k].value;
      // Where it is not steep, noise alone is seen.
      if (std::abs(steepness[k]) <= deviations_[i]) off.push_back(residual);
    }
    const double least = 1e-6 * std::abs(series.readings.front().value) + 1e-9;
    if (off.size() >= 8) deviations_[i] = std::max(robust_deviation(off), least);
    for (std::size_t k = 0; k < courses[i].size(); ++k) {
      const double deviation = std::hypot(deviations_[i], steepness[k]);
      const double residual = courses[i][k] - series.readings[k].value;
      const bool is_far = drops && std::abs(residual) > kMostDeviations * deviation;
      weights_[i][k] = is_far ? 0 : 1 / deviation;
      dropped_ += is_far ? 1 : 0;
    }
  }
}

}  // namespace rampart::fit
