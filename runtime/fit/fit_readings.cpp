#include "runtime/fit/fit_readings.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <tuple>

#include "runtime/as_run/reading_merge.h"

namespace rampart::fit {
namespace {

using as_run::Measured;

const RailLoad* load_of(const as_run::LocatedRun& run, std::size_t rail) {
  return run.played().load->find_rail(run.table().profile()[run.table().rails()[rail].rail].name);
}

template <class Element>
bool has(const RailLoad* load) {
  return load != nullptr && std::any_of(load->elements.begin(), load->elements.end(), [](const LoadElement& element) {
           return std::holds_alternative<Element>(element.what);
         });
}

// The end of a run that was cut short: a trip or a stop.
double end_of(const as_run::LocatedRun& run, const as_run::Recording& nominal, double end) {
  end = std::min(end, nominal.waveforms.left_out_from.value_or(run.duration()));
  for (const auto& logger : run.loggers()) {
    if (!logger->shift_s) continue;
    for (const as_run::SeenEvent& event : logger->survey.events) {
      if (event.word != "trip" && event.word != "stop") continue;
      end = std::min(end, logger->clock.run_of(event.line.time) - 2 * logger->interval());
    }
  }
  return end;
}

// Readings come in steps of the meter or of the log.
double step_of(const std::vector<Reading>& readings, double largest) {
  std::vector<double> values;
  for (const Reading& reading : readings) values.push_back(reading.value);
  std::sort(values.begin(), values.end());
  double step = largest;
  for (std::size_t i = 1; i < values.size(); ++i) {
    const double apart = values[i] - values[i - 1];
    // Less is left by reading decimals.
    if (apart > 1e-9 * largest) step = std::min(step, apart);
  }
  return step;
}

// Readings that are rounded so far that most are as the one before are all off alike. Of those in a row the middle one
// stays: on a ramp it is the least off.
bool is_coarse(const std::vector<Reading>& readings) {
  std::size_t alike = 0;
  for (std::size_t i = 1; i < readings.size(); ++i) alike += readings[i].value == readings[i - 1].value ? 1 : 0;
  return 2 * alike > readings.size();
}

std::vector<Reading> one_of_each_row(const std::vector<Reading>& readings) {
  std::vector<Reading> result;
  for (std::size_t begin = 0; begin < readings.size();) {
    std::size_t end = begin;
    while (end < readings.size() && readings[end].value == readings[begin].value) ++end;
    result.push_back(readings[begin + (end - begin) / 2]);
    begin = end;
  }
  return result;
}

class Collector {
 public:
  Collector(as_run::LocatedRun& run, const as_run::Recording& nominal, double end, const Job& job,
            std::vector<std::string>& left_out)
      : run_(run), nominal_(nominal), job_(job), left_out_(left_out), end_(end_of(run, nominal, end)) {
    for (std::size_t rail = 0; rail < run.table().rails().size(); ++rail) {
      const RailLoad* load = load_of(run, rail);
      const bool is_pulsed = has<PulsedCurrentElement>(load);
      used_.push_back(load != nullptr && !is_pulsed);
      discharges_.push_back(has<ResistorElement>(load));
      if (is_pulsed) {
        left_out_.push_back("rail `" + load->rail + "`: nothing tells when its pulsed current begins");
      }
    }
  }

  std::vector<Series> collect() {
    as_run::ReadingMerge readings(run_.files(), run_.loggers(), run_.table(), run_.names(), job_);
    while (const std::optional<as_run::ReadingMerge::Next> next = readings.next()) take(*next);
    std::vector<Series> result;
    std::map<std::tuple<std::size_t, std::size_t, std::optional<std::size_t>>, std::size_t> timings;
    for (auto& [key, series] : series_) {
      const ChannelId first = run_.table().rails()[series.rail].members.front();
      const auto supply = static_cast<std::size_t>(run_.table().bench()[first].supply);
      series.timing = timings.try_emplace({series.log, supply, std::get<3>(key)}, timings.size()).first->second;
      if (is_coarse(series.readings)) {
        series.readings = one_of_each_row(series.readings);
        tell_coarse(series);
      }
      if (series.readings.size() < kLeast) continue;
      double largest = 0;
      for (const Reading& reading : series.readings) largest = std::max(largest, std::abs(reading.value));
      const as_run::RailMeter::Accuracy accuracy = series.meter->accuracy_at(largest);
      series.share = accuracy.fraction;
      series.step = step_of(series.readings, largest);
      series.offset = accuracy.offset;
      series.noise = series.meter->noise();
      result.push_back(std::move(series));
    }
    return result;
  }

 private:
  // Fewer readings say nothing of their noise.
  static constexpr std::size_t kLeast = 16;

  void tell_coarse(const Series& series) {
    const std::string quantity = series.quantity == Measured::Voltage ? "voltage" : "current";
    const bool is_enough = series.readings.size() >= kLeast;
    left_out_.push_back("rail `" + run_.table().profile()[run_.table().rails()[series.rail].rail].name + "`: the " +
                        quantity + " is rounded so far that most readings are equal; of equal ones in a row " +
                        (is_enough ? "one was used" : "one would be used, and these are too few"));
  }

  void take(const as_run::ReadingMerge::Next& next) {
    if (!used_[next.reading.rail]) return;
    if (next.reading.volts) take(next, Measured::Voltage, *next.reading.volts);
    if (next.reading.amps) take(next, Measured::Current, *next.reading.amps);
  }

  void take(const as_run::ReadingMerge::Next& next, Measured quantity, double value) {
    const as_run::RailReading& reading = next.reading;
    as_run::Logger& logger = *run_.loggers()[next.logger];
    const auto& by = quantity == Measured::Voltage ? reading.volts_by : reading.amps_by;
    const as_run::RailMeter& meter = logger.meters->of(reading.rail, quantity, by);
    const double latency = (meter.latency_low() + meter.latency_high()) / 2;
    const double begin = next.run_s - meter.latency_high() - meter.window();
    if (!meter.is_known() || begin < 0 || next.run_s > end_) return;
    const std::optional<bool> on = is_on(reading.rail, begin, next.run_s);
    if (!on || (!*on && (quantity == Measured::Current || !discharges_[reading.rail]))) return;
    Series& series = series_[std::tuple(next.logger, reading.rail, quantity, by)];
    if (series.readings.empty()) {
      series.log = next.logger;
      series.rail = reading.rail;
      series.quantity = quantity;
      series.meter = &meter;
      series.at_load = logger.meters->is_at_load(reading.rail, meter);
      series.interval = logger.survey.rails[reading.rail].interval;
      const auto all = static_cast<std::size_t>(logger.survey.rails[reading.rail].readings);
      series.each = (all + kMostReadings - 1) / kMostReadings;
    }
    if (count_[&series]++ % series.each == 0) series.readings.push_back({next.run_s - latency, value});
  }

  [[nodiscard]] std::optional<bool> is_on(std::size_t rail, double from, double to) {
    const auto on = [&](double time) {
      const std::optional<WaveValues> values = values_at(nominal_.waveforms.rails[rail], time);
      return values && (*values)[static_cast<std::size_t>(WaveQuantity::Limit)] != 0;
    };
    // Switches act a little earlier or later.
    constexpr double kRoom = 0.02;  // s
    const bool first = on(std::max(0.0, from - kRoom));
    for (const double time : {from, to, std::min(to + kRoom, run_.duration() * (1 - 1e-12))}) {
      if (on(time) != first) return std::nullopt;
    }
    return first;
  }

  as_run::LocatedRun& run_;
  const as_run::Recording& nominal_;
  const Job& job_;
  std::vector<std::string>& left_out_;
  double end_;
  std::vector<bool> used_;
  std::vector<bool> discharges_;
  std::map<std::tuple<std::size_t, std::size_t, Measured, std::optional<std::size_t>>, Series> series_;
  std::map<const Series*, std::size_t> count_;
};

}  // namespace

std::vector<Series> read_series(as_run::LocatedRun& run, const as_run::Recording& nominal, double end, const Job& job,
                                std::vector<std::string>& left_out) {
  return Collector(run, nominal, end, job, left_out).collect();
}

}  // namespace rampart::fit
