#include "runtime/as_run/meters.h"

#include "runtime/as_run/run_times.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace rampart::as_run {
namespace {}  // namespace

RailMeter::RailMeter(const std::vector<const Meter*>& members, Measured quantity, bool adds) : adds_(adds) {
  const auto add = [&](const auto& measured) {
    std::vector<Step> steps;
    for (const auto& range : measured.ranges) {
      steps.push_back({range.up_to ? range.up_to->to_double() : std::numeric_limits<double>::infinity(),
                       range.accuracy.fraction.to_double(), range.accuracy.offset.to_double()});
    }
    members_.push_back(std::move(steps));
    noise_ += measured.noise.to_double();
  };
  for (const Meter* meter : members) {
    const bool measures =
        meter != nullptr && (quantity == Measured::Voltage ? meter->voltage.has_value() : meter->current.has_value());
    if (!measures) {
      is_known_ = false;
      continue;
    }
    if (quantity == Measured::Voltage) {
      add(*meter->voltage);
    } else {
      add(*meter->current);
    }
    window_ = std::max(window_, in_seconds(meter->window));
    latency_low_ =
        members_.size() == 1 ? in_seconds(meter->latency.low) : std::min(latency_low_, in_seconds(meter->latency.low));
    latency_high_ = std::max(latency_high_, in_seconds(meter->latency.high + meter->refresh));
    at_ = meter->at;
  }
}

// Where readings add, each member has its share of the value; else one of them is the value.
double RailMeter::error_at(double value) const {
  const double share =
      adds_ ? std::abs(value) / static_cast<double>(std::max<std::size_t>(1, members_.size())) : std::abs(value);
  double sum = 0;
  double most = 0;
  for (const std::vector<Step>& steps : members_) {
    const auto step = std::find_if(steps.begin(), steps.end(), [&](const Step& one) { return share <= one.up_to; });
    const Step& used = step == steps.end() ? steps.back() : *step;
    const double error = used.fraction * share + used.offset;
    sum += error;
    most = std::max(most, error);
  }
  return (adds_ ? sum : most) + noise_;
}

RailMeter::Accuracy RailMeter::accuracy_at(double value) const {
  const auto count = static_cast<double>(std::max<std::size_t>(1, members_.size()));
  const double share = adds_ ? std::abs(value) / count : std::abs(value);
  Accuracy all;
  for (const std::vector<Step>& steps : members_) {
    const auto step = std::find_if(steps.begin(), steps.end(), [&](const Step& one) { return share <= one.up_to; });
    const Step& used = step == steps.end() ? steps.back() : *step;
    all.fraction = std::max(all.fraction, used.fraction);
    all.offset = adds_ ? all.offset + used.offset : std::max(all.offset, used.offset);
  }
  return all;
}

const RailMeter& Meters::of(std::size_t rail, Measured quantity, const std::optional<std::size_t>& instrument) {
  const auto key = std::tuple(rail, quantity, instrument);
  const auto found = known_.find(key);
  if (found != known_.end()) return found->second;
  const RailSetup& setup = table_->rails()[rail];
  std::vector<const Meter*> members;
  if (instrument) {
    members.push_back(&description_->instruments[*instrument].meter);
  } else {
    for (const ChannelId channel : setup.members) {
      const std::optional<Meter>& meter = (*readbacks_)[static_cast<std::size_t>(channel)];
      members.push_back(meter ? &*meter : nullptr);
    }
  }
  const bool adds = setup.arrangement == (quantity == Measured::Voltage ? Arrangement::Series : Arrangement::Parallel);
  return known_.emplace(key, RailMeter(members, quantity, adds)).first->second;
}

bool Meters::is_at_load(std::size_t rail, const RailMeter& meter) const {
  if (meter.at()) return *meter.at() == MeasuredAt::Load;
  return table_->profile()[table_->rails()[rail].rail].remote_sense;
}

}  // namespace rampart::as_run
