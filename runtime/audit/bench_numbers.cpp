#include "runtime/audit/bench_numbers.h"

#include "lang/values/quantity.h"

namespace rampart::audit {
namespace {

template <class Value>
Settable settable(const Range<Value>& range, const Value& step) {
  return {TableNumber(range.low.si), TableNumber(range.high.si), TableNumber(step.si)};
}

}  // namespace

ChannelBounds::ChannelBounds(const OutputLimits& limits)
    : voltage(settable(limits.voltage.value, limits.voltage_resolution)),
      current(settable(limits.current.value, limits.current_resolution)) {
  if (limits.power) power = TableNumber(limits.power->value.si);
}

Pace::Pace(const Timing& timing)
    : resolution(to_seconds(timing.resolution)), minimum_step(to_seconds(timing.minimum_step)) {}

}  // namespace rampart::audit
