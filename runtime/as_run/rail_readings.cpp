#include "runtime/as_run/rail_readings.h"

#include <algorithm>

namespace rampart::as_run {
namespace {

RailReading reading_of(std::size_t rail, double time, double earliest, const LogReading& reading) {
  RailReading result;
  result.rail = rail;
  result.time = time;
  result.earliest = earliest;
  result.volts = reading.volts;
  result.amps = reading.amps;
  result.volts_by = reading.volts_by;
  result.amps_by = reading.amps_by;
  result.output = reading.output;
  result.mode = reading.mode;
  result.expects_volts = reading.expects_volts;
  result.expects_amps = reading.expects_amps;
  return result;
}

}  // namespace

RailReadings::RailReadings(const Table& table, const LogNames& names)
    : table_(&table), names_(&names), by_channel_(table.bench().channels.size()), gathered_(table.rails().size()) {
  for (std::size_t rail = 0; rail < table.rails().size(); ++rail) {
    const std::vector<ChannelId>& members = table.rails()[rail].members;
    gathered_[rail].members.resize(members.size());
    for (std::size_t i = 0; i < members.size(); ++i) {
      by_channel_[static_cast<std::size_t>(members[i])] = Member{rail, i};
    }
  }
}

std::optional<RailReading> RailReadings::take(const LogReading& reading, double time) {
  const LogNames::Target& target = (*names_)[reading.target];
  if (target.of == LogNames::Of::Rail) {
    return reading_of(target.index, time, time, reading);
  }
  if (target.of == LogNames::Of::Line || !by_channel_[target.index]) return std::nullopt;
  const Member member = *by_channel_[target.index];
  Gathered& gathered = gathered_[member.rail];
  // A second reading of one member before the others came: the first has no company.
  if (gathered.members[member.place]) {
    gathered.members.assign(gathered.members.size(), std::nullopt);
    gathered.count = 0;
  }
  if (gathered.count == 0) gathered.earliest = time;
  gathered.members[member.place] = reading;
  if (++gathered.count < gathered.members.size()) return std::nullopt;
  const RailReading result = join(member.rail, time);
  gathered.members.assign(gathered.members.size(), std::nullopt);
  gathered.count = 0;
  return result;
}

RailReading RailReadings::join(std::size_t rail, double time) const {
  const RailSetup& setup = table_->rails()[rail];
  const Gathered& gathered = gathered_[rail];
  const LogReading& first = *gathered.members.front();
  RailReading result = reading_of(rail, time, gathered.earliest, first);
  const auto add = [](std::optional<double>& sum, const std::optional<double>& part) {
    if (sum && part) {
      *sum += *part;
    } else {
      sum.reset();
    }
  };
  for (std::size_t i = 1; i < gathered.members.size(); ++i) {
    const LogReading& other = *gathered.members[i];
    if (setup.arrangement == Arrangement::Series) add(result.volts, other.volts);
    if (setup.arrangement == Arrangement::Parallel) add(result.amps, other.amps);
    if (result.output && other.output) result.output = *result.output && *other.output;
    result.expects_volts = result.expects_volts || other.expects_volts;
    result.expects_amps = result.expects_amps || other.expects_amps;
    if (other.mode == LogMode::ConstantCurrent) result.mode = LogMode::ConstantCurrent;
  }
  if (result.volts && table_->profile()[setup.rail].reversed) result.volts = -*result.volts;
  return result;
}

}  // namespace rampart::as_run
