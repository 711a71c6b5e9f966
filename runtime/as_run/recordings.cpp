#include "runtime/as_run/recordings.h"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <limits>
#include <utility>

#include "lang/job/parallel.h"
#include "runtime/rail/deviation.h"
#include "runtime/scenario/load_values.h"
#include "runtime/waveform/recorder.h"

namespace rampart::as_run {
namespace {

// How far straight lines may be from a course, as a share of its largest value: well below what a meter can tell.
constexpr double kShare = 2e-5;
constexpr double kLeastError = 1e-9;

std::vector<WaveValues> errors_of(const Simulation& simulation) {
  std::vector<WaveValues> errors;
  for (const RailFigures& rail : simulation.rails) {
    const auto share = [](const Peak& peak) { return std::max(kShare * std::abs(peak.value), kLeastError); };
    const double voltage = share(rail.voltage_V);
    // Nobody asks for the power.
    errors.push_back(
        {voltage, kLeastError, voltage, voltage, share(rail.current_A), std::numeric_limits<double>::infinity()});
  }
  return errors;
}

// What the supplies may be off by, as shares of what they are allowed.
struct End {
  double voltage = 0;
  double limit = 0;
  double delay = 0;
};

template <class Value>
SettingError error_of(const std::optional<Accuracy<Value>>& accuracy, double share) {
  if (!accuracy) return {};
  return {share * accuracy->fraction.to_double(), share * accuracy->offset.to_double()};
}

std::vector<RailDeviation> deviations_of(const Table& table, const End& end) {
  std::vector<RailDeviation> deviations;
  for (const RailSetup& setup : table.rails()) {
    RailDeviation& rail = deviations.emplace_back();
    rail.is_certain = true;
    for (std::size_t i = 0; i < setup.members.size(); ++i) {
      const OutputLimits& limits = table.bench()[setup.members[i]].limits;
      ChannelDeviation& channel = rail.members.emplace_back();
      // Parallel channels have one voltage, that of the first.
      if (i == 0 || setup.arrangement == Arrangement::Series) {
        channel.voltage = error_of(limits.voltage_accuracy, end.voltage);
      }
      channel.current = error_of(limits.current_accuracy, end.limit);
      channel.on_delay = end.delay;
    }
  }
  return deviations;
}

// Each voltage with each limit, and both ends of the delays; where nothing of a kind is given, its middle alone.
std::vector<End> ends_of(const Table& table) {
  bool voltage = false;
  bool limit = false;
  bool delay = false;
  for (const RailSetup& setup : table.rails()) {
    for (const ChannelId member : setup.members) {
      voltage = voltage || table.bench()[member].limits.voltage_accuracy;
      limit = limit || table.bench()[member].limits.current_accuracy;
      const Range<Nanoseconds>& delays = table.bench().supply_of(member).timing.on_delay;
      delay = delay || delays.low < delays.high;
    }
  }
  const auto sides = [](bool given) { return given ? std::vector<double>{-1, 1} : std::vector<double>{0}; };
  std::vector<End> ends;
  for (const double v : sides(voltage)) {
    for (const double a : sides(limit)) {
      if (v != 0 || a != 0) ends.push_back({v, a, 0});
    }
  }
  if (delay) {
    ends.push_back({0, 0, -1});
    ends.push_back({0, 0, 1});
  }
  return ends;
}

// One value of the load at one end.
struct OtherLoad {
  Load load;
  std::size_t rail = 0;
  std::size_t value = 0;
};

std::vector<OtherLoad> loads_of(const Played& played, std::size_t& left_out) {
  std::vector<OtherLoad> loads;
  const Profile& profile = played.run->profile();
  for (std::size_t rail = 0; rail < played.run->rails().size(); ++rail) {
    const std::string& name = profile[played.run->rails()[rail].rail].name;
    Load load = *played.load;
    const auto own =
        std::find_if(load.rails.begin(), load.rails.end(), [&](const RailLoad& one) { return one.rail == name; });
    if (own == load.rails.end()) continue;
    std::size_t value = 0;
    spread::visit_values(*own, [&](const spread::ValuePlace& /*place*/, Toleranced& one) {
      ++value;
      if (!(one.low < one.high)) return;
      if (loads.size() >= 2 * kMostLoadValues) {
        ++left_out;
        return;
      }
      const double nominal = one.nominal;
      for (const double end : {one.low, one.high}) {
        one.nominal = end;
        loads.push_back({load, rail, value});
      }
      one.nominal = nominal;
    });
  }
  return loads;
}

// Twice: the peaks of the first time say how fine to record.
Recording record_run(const Played& played, const Incidents& incidents, const Job& job) {
  Recording result;
  result.simulation = simulate(*played.run, played.safe, *played.load, incidents, nullptr, job);
  WaveRecorder recorder(errors_of(result.simulation), WaveOverflow::LeaveOut);
  static_cast<void>(simulate(*played.run, played.safe, *played.load, incidents, &recorder, job));
  result.waveforms = recorder.finish();
  return result;
}

}  // namespace

std::optional<double> Recordings::left_out_from() const {
  std::optional<double> least = nominal.waveforms.left_out_from;
  for (const Recording& end : ends) {
    const std::optional<double>& from = end.waveforms.left_out_from;
    if (from && (!least || *from < *least)) least = from;
  }
  return least;
}

Recordings record(const Played& played, const AsPlayed& played_as, const Wanted& wanted, const Job& job) {
  Recordings result;
  std::vector<Incidents> runs(1);
  if (wanted.ends) {
    for (const End& end : ends_of(*played.run)) runs.push_back({{}, {}, deviations_of(*played.run, end), {}});
  }
  const std::vector<OtherLoad> loads =
      wanted.loads ? loads_of(played, result.loads_left_out) : std::vector<OtherLoad>{};
  std::vector<Recording> recorded(runs.size() + loads.size());
  const Job quiet = job.quietly();
  run_parallel(recorded.size(), job, [&](std::size_t i) {
    Incidents incidents = i < runs.size() ? runs[i] : Incidents{};
    incidents.waits = played_as.waits;
    incidents.cut_off = played_as.cut_off;
    incidents.commanded = played_as.commanded;
    Played other = played;
    if (i >= runs.size()) other.load = &loads[i - runs.size()].load;
    recorded[i] = record_run(other, incidents, quiet);
  });
  const auto first_load = recorded.begin() + static_cast<std::ptrdiff_t>(runs.size());
  result.nominal = std::move(recorded.front());
  result.ends.assign(std::make_move_iterator(recorded.begin() + 1), std::make_move_iterator(first_load));
  for (std::size_t i = 0; i < loads.size(); ++i) {
    result.loads.push_back({loads[i].rail, loads[i].value, std::move(recorded[runs.size() + i])});
  }
  return result;
}

}  // namespace rampart::as_run
