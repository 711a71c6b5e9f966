#include "runtime/rail/settling.h"

#include <algorithm>
#include <cmath>
#include <memory>

namespace rampart {
namespace {

using circuit::Bounds;
using circuit::Circuit;
using circuit::Mode;
using circuit::Piece;
using circuit::SignalCurve;

// Longer than anyone waits for a rail, s.
constexpr double kLongest = 86'400;

// When the signal first comes within the band, as a share of the piece.
std::optional<double> entry(const circuit::Signal& signal, const Bounds& band) {
  const double start = signal.value(0);
  if (start >= band.low && start <= band.high) return 0;
  const double noise = 1e-13 * (std::abs(band.high) + std::abs(band.low));
  if (start > band.high) return first_rise(SignalCurve(signal.times(-1).plus_line(band.high, 0)), noise);
  return first_rise(SignalCurve(signal.plus_line(-band.low, 0)), noise);
}

}  // namespace

Bounds Settling::band(double setpoint) const {
  double off = kSettledShare * std::abs(setpoint);
  if (accuracy_) {
    off = std::max(off, accuracy_->fraction.to_double() * std::abs(setpoint) + accuracy_->offset.to_double());
  }
  return {setpoint - off, setpoint == 0 ? std::max(off, kChargedVolts) : setpoint + off};
}

double Settling::measured(const Circuit& circuit) const {
  return sensed_ ? circuit.port_voltage() : circuit.terminal_voltage();
}

const circuit::Signal& Settling::measured_in(const Piece& piece) const {
  return sensed_ ? piece.port_voltage : piece.terminal_voltage;
}

void Settling::want(const Setpoint::Wanted& wanted, const Circuit& circuit, const Instant& now, const Doing& doing) {
  const Setpoint::Wanted before = wanted_;
  wanted_ = wanted;
  const bool switched = wanted.on != before.on;
  // The stairs of a limit are no change of what the rail has to come to.
  if (!switched && !wanted.runs && wanted.voltage == before.voltage) return;
  settle_left(now);
  if (standing_) judge(circuit, now, !wanted.on);
  standing_.reset();
  if (left_ && !wanted.stair) note_left();
  if (!wanted.on) return;
  if (switched && circuit.port_voltage() > 0 && is_charged(circuit.port_voltage())) {
    note_charged(circuit, now, doing);
    return;
  }
  const bool has_to_come = !switched || wanted.voltage != 0;
  if (!wanted.moves() && has_to_come) {
    standing_ = Standing{wanted.voltage, band(wanted.voltage), measured(circuit), {}, now, std::nullopt, false, doing};
  }
}

// The second stair of a ramp tells how long an interval is. Where the setpoint stood no longer than one, the ramp began
// as soon as it was there.
void Settling::settle_left(const Instant& now) {
  if (!left_) return;
  if (left_->had > 1.5 * now.since(left_->at)) {
    note_left();
    return;
  }
  left_->spare.reset();
  if (left_->missed) left_->missed->had_s = 0;
  if (left_->missed && !left_->above) left_->missed.reset();
  note_left();
}

void Settling::note_left() {
  if (left_->spare) note_spare(*left_->spare);
  if (left_->missed) note_missed(std::move(*left_->missed), left_->above);
  left_.reset();
}

void Settling::advance(const Circuit& circuit, const Instant& from) {
  if (!standing_ || standing_->settled) return;
  const Piece& piece = circuit.piece();
  standing_->starved = circuit.mode() == Mode::HeadroomLimited;
  if (const std::optional<double> at = entry(measured_in(piece), standing_->band)) {
    standing_->settled = from.plus_seconds(*at * piece.length);
  }
}

void Settling::finish(const Circuit& circuit, const Instant& now) {
  if (left_) note_left();
  if (standing_) judge(circuit, now, false);
  standing_.reset();
  if (left_) note_left();
}

// The window of the present setpoint closes now.
void Settling::judge(const Circuit& circuit, const Instant& now, bool goes_off) {
  const Standing& standing = *standing_;
  const double had = now.since(standing.since);
  if (standing.settled) {
    if (had <= 0) return;
    left_ = Left{now, had, {}, {}, false};
    const double spare = now.since(*standing.settled);
    left_->spare = {spare, had, standing.settled->seconds(), standing.doing.statement, standing.doing.passes};
    return;
  }
  if (standing.starved) return;
  // A setpoint that is changed as soon as it is set cannot be asked for on the way up. On the way down it can: a load
  // that is still above it shows that the output takes nothing in.
  const double voltage = measured(circuit);
  if (voltage >= standing.band.low && voltage <= standing.band.high) return;
  if (had <= 0 && voltage <= standing.band.high) return;
  left_ = Left{now, had, {}, missed_at(circuit, now, had, goes_off), voltage > standing.band.high};
  if (had <= 0) return;
  const double missing = left_->missed->needs_s.value_or(had);
  left_->spare = {-missing, had, now.seconds(), standing.doing.statement, standing.doing.passes};
}

void Settling::note_spare(const SpareTime& spare) {
  const auto share = [](const SpareTime& time) { return time.spare_s / time.had_s; };
  if (!least_ || share(spare) < share(*least_)) least_ = spare;
}

MissedSetpoint Settling::missed_at(const Circuit& circuit, const Instant& now, double had, bool goes_off) const {
  const Standing& standing = *standing_;
  MissedSetpoint missed;
  missed.setpoint_V = standing.setpoint;
  missed.voltage_V = measured(circuit);
  missed.enough_V = standing.band.high;
  missed.time_s = now.seconds();
  missed.had_s = had;
  missed.was_off = goes_off;
  missed.statement = standing.doing.statement;
  missed.passes = standing.doing.passes;
  if (missed.voltage_V > standing.band.high) missed.from = standing.from;
  missed.limit_A = circuit.setting().limit;
  missed.at_load = sensed_;
  missed.needs_s = time_to_band(circuit);
  return missed;
}

void Settling::note_missed(MissedSetpoint missed, bool above) {
  std::optional<MissedSetpoint>& worst = above ? shortfalls_.cannot_sink : shortfalls_.not_settled;
  const auto off_by = [](const MissedSetpoint& one) { return std::abs(one.voltage_V - one.setpoint_V); };
  if (!worst || off_by(missed) > off_by(*worst) * (1 + 1e-9)) worst = std::move(missed);
}

// How long from now on, if nothing is set anew.
std::optional<double> Settling::time_to_band(const Circuit& circuit) const {
  if (circuit.mode() == Mode::ConstantVoltage || !circuit.setting().on) return std::nullopt;
  const std::unique_ptr<Circuit> ahead = circuit.copy();
  ahead->plan(kLongest);
  const std::optional<double> at = entry(measured_in(ahead->piece()), standing_->band);
  return at ? std::optional(*at * ahead->piece().length) : std::nullopt;
}

void Settling::note_charged(const Circuit& circuit, const Instant& now, const Doing& doing) {
  const double voltage = circuit.port_voltage();
  std::optional<ChargedAtOn>& worst = shortfalls_.charged_at_on;
  if (worst && voltage <= worst->voltage_V * (1 + 1e-9)) return;
  worst = ChargedAtOn{voltage, now.seconds(), doing.statement, doing.passes};
}

void Settling::continue_as(const Settling& other, const Instant& by, const Instant& pass_began,
                           const PassShift& passes) {
  wanted_ = other.wanted_;
  if (!other.standing_ || !standing_ || other.standing_->since.since(pass_began) >= 0) {
    standing_ = other.standing_;
    if (standing_) {
      standing_->since = standing_->since.plus(by);
      if (standing_->settled) standing_->settled = standing_->settled->plus(by);
      passes.apply(standing_->doing.passes);
    }
  }
  if (other.left_ && left_ && other.left_->at.since(pass_began) < 0) return;
  left_ = other.left_;
  if (!left_) return;
  left_->at = left_->at.plus(by);
  if (left_->spare) {
    left_->spare->time_s += by.seconds();
    passes.apply(left_->spare->passes);
  }
  if (left_->missed) {
    left_->missed->time_s += by.seconds();
    passes.apply(left_->missed->passes);
  }
}

void Settling::add_ages(const Instant& now, const Instant& pass_began, std::vector<double>& ages) const {
  const auto add = [&](const Instant& since) { ages.push_back(since.since(pass_began) < 0 ? -1 : now.since(since)); };
  if (standing_) add(standing_->since);
  if (standing_ && standing_->settled) add(*standing_->settled);
  if (!left_) return;
  add(left_->at);
  ages.push_back(left_->at.since(pass_began) < 0 ? -1 : left_->had);
  if (left_->spare) ages.push_back(left_->spare->spare_s);
}

void Settling::shift(const Instant& by, const Instant& pass_began) {
  if (left_ && left_->at.since(pass_began) >= 0) left_->at = left_->at.plus(by);
  if (!standing_ || standing_->since.since(pass_began) < 0) return;
  standing_->since = standing_->since.plus(by);
  if (standing_->settled) standing_->settled = standing_->settled->plus(by);
}

}  // namespace rampart
