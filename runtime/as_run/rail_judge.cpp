#include "runtime/as_run/rail_judge.h"

#include <algorithm>
#include <cmath>

namespace rampart::as_run {
namespace {

// How late or early a row is looked for.
double farthest_of(double interval) {
  constexpr double kLeast = 1;  // s
  return std::max(kLeast, 20 * interval);
}

const RailLoad* load_of(const Played& played, std::size_t rail) {
  return played.load->find_rail(played.run->profile()[played.run->rails()[rail].rail].name);
}

// A resistor of the load, or what the bench says of every channel, discharges a rail that is off.
bool discharges(const Played& played, std::size_t rail) {
  if (const RailLoad* load = load_of(played, rail)) {
    for (const LoadElement& element : load->elements) {
      if (std::holds_alternative<ResistorElement>(element.what)) return true;
    }
  }
  const std::vector<ChannelId>& members = played.run->rails()[rail].members;
  return std::all_of(members.begin(), members.end(),
                     [&](ChannelId channel) { return played.run->bench()[channel].off_resistance.has_value(); });
}

double longest_pulse(const Played& played, std::size_t rail) {
  double period = 0;
  if (const RailLoad* load = load_of(played, rail)) {
    for (const LoadElement& element : load->elements) {
      if (const auto* pulsed = std::get_if<PulsedCurrentElement>(&element.what))
        period = std::max(period, pulsed->period);
    }
  }
  return period;
}

}  // namespace

Span statement_at(const RailWaveform& rail, double time) {
  const std::vector<WaveNode>* nodes = &rail.nodes;
  Span statement;
  while (!nodes->empty()) {
    auto after = std::upper_bound(nodes->begin(), nodes->end(), time,
                                  [](double value, const WaveNode& node) { return value < node.begin; });
    if (after != nodes->begin()) --after;
    time -= after->begin;
    if (const auto* stretch = std::get_if<WaveStretch>(&after->what)) return stretch->statement;
    const auto* repeat = std::get_if<WaveRepeat>(&after->what);
    if (repeat == nullptr) return statement;
    const double pass = std::clamp(std::floor(time / repeat->period), 0.0, static_cast<double>(repeat->count - 1));
    time = std::max(0.0, time - pass * repeat->period);
    nodes = &repeat->body;
  }
  return statement;
}

RailJudge::RailJudge(const Expectations& expected, std::size_t rail, double interval)
    : expected_(expected),
      rail_(rail),
      kept_(2 * farthest_of(interval) + 80 * interval),
      pulse_(longest_pulse(expected.played, rail)),
      discharges_(discharges(expected.played, rail)) {
  const Table& table = *expected.played.run;
  const RailSetup& setup = table.rails()[rail];
  figures_.rail = setup.rail;
  sign_ = table.profile()[setup.rail].reversed ? -1 : 1;
  for (const ChannelId member : setup.members) {
    const Range<Nanoseconds>& delay = table.bench().supply_of(member).timing.on_delay;
    has_switch_delay_ = has_switch_delay_ || delay.high > Nanoseconds{0};
  }
  for (const Measured quantity : {Measured::Voltage, Measured::Current}) {
    Surroundings& around = *this;
    tracks_.emplace_back(setup.rail, quantity, interval, farthest_of(interval), around);
  }
}

RailEnvelope& RailJudge::envelope(const RailMeter& meter) {
  const bool at_load = expected_.meters->is_at_load(rail_, meter);
  std::optional<RailEnvelope>& place = at_load ? at_load_ : at_terminals_;
  if (!place) place.emplace(*expected_.recordings, rail_, at_load, kept_, pulse_);
  return *place;
}

// While a switch may be about to close nothing is known, nor is the voltage of what floats, nor what was before the
// run.
bool RailJudge::is_judged(const RailMeter& meter, const Stamp& stamp, Measured quantity) {
  if (stamp.from - meter.latency_high() - meter.window() < 0) return false;
  const std::optional<bool> on = envelope(meter).is_on(meter, stamp);
  if (!on) return !has_switch_delay_ && (quantity == Measured::Current || discharges_);
  if (*on || quantity == Measured::Current || discharges_) return true;
  floated_ = true;
  return false;
}

void RailJudge::take(const RailReading& reading, double run_s, const Stamp& stamp) {
  ++figures_.readings;
  Judged judged;
  judged.run_s = run_s;
  judged.log_s = reading.time;
  judged.stamp = stamp;
  judged.limited = reading.mode == LogMode::ConstantCurrent;
  volts_off_.reset();
  if (reading.output) {
    const RailMeter& meter = expected_.meters->of(rail_, Measured::Voltage, reading.volts_by);
    tells_output_ = true;
    // At the end of the run it goes off.
    const bool is_within = stamp.to < expected_.recordings->nominal.simulation.duration_s;
    lost_output_ = lost_output_ || (!*reading.output && is_within && envelope(meter).is_on(meter, stamp) == true);
  }
  if (reading.volts) judge_voltage(reading, judged);
  if (reading.amps) judge_current(reading, judged);
  if (reading.volts && reading.amps) add_figures(reading, run_s);
}

void RailJudge::judge_voltage(const RailReading& reading, Judged judged) {
  const RailMeter& meter = expected_.meters->of(rail_, Measured::Voltage, reading.volts_by);
  lacks_meter_[place_of(Measured::Voltage)] = !meter.is_known();
  if (!meter.is_known() || !is_judged(meter, judged.stamp, Measured::Voltage)) return;
  figures_.voltage_judged = true;
  meter_of_[place_of(Measured::Voltage)] = &meter;
  const RailEnvelope::Expected expected = expect(Measured::Voltage, meter, judged.stamp);
  judged.measured = *reading.volts;
  judged.predicted = expected.predicted;
  judged.band = expected.band;
  judged.error = expected.error;
  const RailMeter& amps_meter = expected_.meters->of(rail_, Measured::Current, reading.amps_by);
  if (judged.is_outside() && reading.amps && amps_meter.is_known()) {
    judged.amps = *reading.amps;
    const RailEnvelope::Expected amps = expect(Measured::Current, amps_meter, judged.stamp);
    judged.predicted_amps = amps.predicted;
    judged.amps_error = amps.error;
    judged.limit = envelope(meter).limit_at(judged.run_s);
  }
  if (judged.is_outside()) volts_off_ = judged.measured - judged.predicted;
  tracks_[place_of(Measured::Voltage)].take(judged);
}

void RailJudge::judge_current(const RailReading& reading, Judged judged) {
  const RailMeter& meter = expected_.meters->of(rail_, Measured::Current, reading.amps_by);
  lacks_meter_[place_of(Measured::Current)] = !meter.is_known();
  if (!meter.is_known() || !is_judged(meter, judged.stamp, Measured::Current)) return;
  figures_.current_judged = true;
  meter_of_[place_of(Measured::Current)] = &meter;
  const RailEnvelope::Expected expected = expect(Measured::Current, meter, judged.stamp);
  judged.measured = *reading.amps;
  judged.predicted = expected.predicted;
  judged.band = expected.band;
  judged.error = expected.error;
  // What the measured voltage explains is told with the voltage: anything between the two is as it should be.
  if (volts_off_ && judged.is_outside()) {
    const double shift = sign_ * *volts_off_ * envelope(meter).conductance(meter, judged.stamp);
    Band shifted{judged.band.low + shift, judged.band.high + shift};
    const double width = (judged.band.high - judged.band.low) / 2 + 0.2 * std::abs(shift);
    shifted.include(judged.band);
    judged.band = {shifted.low - width, shifted.high + width};
  }
  judged.amps = judged.measured;
  judged.predicted_amps = judged.predicted;
  judged.amps_error = judged.error;
  judged.limit = judged.is_outside() ? envelope(meter).limit_at(judged.run_s) : 0;
  tracks_[place_of(Measured::Current)].take(judged);
}

void RailJudge::note_switched(bool is_on, double run_s) {
  left_on_ = is_on;
  switched_s_ = run_s;
}

// A log may show what was before a command of another.
void RailJudge::note_end(const RailReading& reading, double run_s, double earliest) {
  if ((reading.output ? run_s : earliest) < switched_s_) return;
  left_on_ = output_by(reading).value_or(left_on_);
}

void RailJudge::note_afterwards(const RailReading& reading) {
  const std::optional<bool> output = output_by(reading);
  if (!output) return;
  if (!*output) {
    off_after_ = true;
  } else {
    on_after_ += reading.output ? 2 : 1;
  }
}

std::optional<bool> RailJudge::output_by(const RailReading& reading) const {
  if (reading.output || !reading.amps) return reading.output;
  const RailMeter& meter = expected_.meters->of(rail_, Measured::Current, reading.amps_by);
  return meter.is_known() && std::abs(*reading.amps) > 2 * meter.error_at(*reading.amps);
}

// By trapezoid. Between two readings the power stays between theirs, or moves as it was predicted to; within the window
// of a reading the product of the means is not the mean of the product.
void RailJudge::add_figures(const RailReading& reading, double run_s) {
  const Last now{run_s, *reading.volts, *reading.amps};
  figures_.with_power = true;
  if (last_ && run_s > last_->run_s) {
    const double time = run_s - last_->run_s;
    const double volts = sign_ * (last_->volts + now.volts) / 2;
    const double amps = (last_->amps + now.amps) / 2;
    const double before = sign_ * last_->volts * last_->amps;
    const double after = sign_ * now.volts * now.amps;
    const RailMeter& volts_meter = expected_.meters->of(rail_, Measured::Voltage, reading.volts_by);
    const RailMeter& amps_meter = expected_.meters->of(rail_, Measured::Current, reading.amps_by);
    lacks_bound_ = lacks_bound_ || !volts_meter.is_known() || !amps_meter.is_known();
    figures_.has_bound = !lacks_bound_;
    const double volts_error = volts_meter.error_at(volts);
    const double amps_error = amps_meter.error_at(amps);
    RailEnvelope& course = envelope(volts_meter);
    const Band v = course.nominal_between(Measured::Voltage, last_->run_s - volts_meter.window(), run_s);
    const Band i = course.nominal_between(Measured::Current, last_->run_s - volts_meter.window(), run_s);
    Band power{v.low * i.low, v.low * i.low};
    for (const double product : {v.low * i.high, v.high * i.low, v.high * i.high}) power.include(product);
    figures_.energy_J += time * (before + after) / 2;
    figures_.charge_C += time * amps;
    figures_.energy_bound_J += time * (std::abs(volts) * amps_error + std::abs(amps) * volts_error +
                                       std::max(std::abs(after - before), power.high - power.low) / 2);
    figures_.charge_bound_C += time * (amps_error + std::max(std::abs(now.amps - last_->amps), i.high - i.low) / 2);
  }
  last_ = now;
}

// At the terminals the leads drop a part of the voltage before the load.
RailPoint RailJudge::point_of(const RailReading& reading) {
  const RailMeter& volts = expected_.meters->of(rail_, Measured::Voltage, reading.volts_by);
  const RailMeter& amps = expected_.meters->of(rail_, Measured::Current, reading.amps_by);
  RailPoint point;
  if (!reading.volts || !volts.is_known()) return point;
  const RailLoad* load = load_of(expected_.played, rail_);
  const bool has_amps = reading.amps && amps.is_known();
  const bool has_drop = !expected_.meters->is_at_load(rail_, volts) && load != nullptr && load->wire.nominal > 0;
  point.volts = *reading.volts;
  point.volts_error = volts.error_at(point.volts);
  if (has_amps) {
    point.amps = *reading.amps;
    point.amps_error = amps.error_at(point.amps);
  }
  if (has_drop && has_amps) {
    point.volts -= sign_ * load->wire.nominal * point.amps;
    point.volts_error += load->wire.high * point.amps_error + (load->wire.high - load->wire.low) * std::abs(point.amps);
  }
  point.known = has_amps;
  return point;
}

void RailJudge::finish() {
  for (ExcursionTrack& track : tracks_) {
    track.finish();
    figures_.single += track.single();
  }
}

Band RailJudge::band_if_late(Measured quantity, const Judged& reading, double late) {
  return expect(quantity, *meter_of_[place_of(quantity)], {reading.stamp.from - late, reading.stamp.to - late}).band;
}

std::optional<std::size_t> RailJudge::rail_like(Measured quantity, const Judged& reading) {
  if (all_ == nullptr) return std::nullopt;
  for (std::size_t i = 0; i < all_->size(); ++i) {
    if (i == rail_) continue;
    const RailEnvelope::Expected other = (*all_)[i]->expect(quantity, *meter_of_[place_of(quantity)], reading.stamp);
    const bool fits = reading.measured >= other.band.low && reading.measured <= other.band.high;
    if (fits && std::abs(other.predicted) > 2 * other.error) return i;
  }
  return std::nullopt;
}

bool RailJudge::limited_between(double from, double to) {
  return rampart::limited_between(expected_.recordings->nominal.waveforms.rails[rail_], from, to);
}

Span RailJudge::statement_at(double run_s) {
  return as_run::statement_at(expected_.recordings->nominal.waveforms.rails[rail_], run_s);
}

}  // namespace rampart::as_run
