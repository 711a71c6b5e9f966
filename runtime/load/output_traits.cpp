#include "runtime/load/output_traits.h"

#include <algorithm>

namespace rampart {
namespace {

RailTerminals output_of_channel(const Channel& channel, bool remote_sense) {
  RailTerminals output;
  output.sink = channel.sink.to_double();
  if (remote_sense && channel.remote_sense) output.headroom = channel.remote_sense->headroom.to_double();
  output.capacitance = channel.output_capacitance.to_double();
  if (channel.off_resistance) output.off_resistance = channel.off_resistance->to_double();
  return output;
}

void join_series(RailTerminals& whole, const RailTerminals& part) {
  whole.sink = std::min(whole.sink, part.sink);
  if (whole.headroom) *whole.headroom += part.headroom.value_or(0);
  const bool both = whole.capacitance > 0 && part.capacitance > 0;
  whole.capacitance = both ? 1 / (1 / whole.capacitance + 1 / part.capacitance) : 0;
  if (whole.off_resistance && part.off_resistance) {
    *whole.off_resistance += *part.off_resistance;
  } else {
    whole.off_resistance.reset();
  }
}

void join_parallel(RailTerminals& whole, const RailTerminals& part) {
  whole.sink += part.sink;
  if (part.headroom) whole.headroom = std::min(whole.headroom.value_or(*part.headroom), *part.headroom);
  whole.capacitance += part.capacitance;
  if (whole.off_resistance && part.off_resistance) {
    whole.off_resistance = 1 / (1 / *whole.off_resistance + 1 / *part.off_resistance);
  } else if (part.off_resistance) {
    whole.off_resistance = part.off_resistance;
  }
}

}  // namespace

RailTerminals output_of(const Table& table, const RailSetup& setup) {
  const bool remote_sense = table.profile()[setup.rail].remote_sense;
  RailTerminals whole = output_of_channel(table.bench()[setup.members.front()], remote_sense);
  for (std::size_t i = 1; i < setup.members.size(); ++i) {
    const RailTerminals part = output_of_channel(table.bench()[setup.members[i]], remote_sense);
    if (setup.arrangement == Arrangement::Series) {
      join_series(whole, part);
    } else {
      join_parallel(whole, part);
    }
  }
  return whole;
}

}  // namespace rampart
