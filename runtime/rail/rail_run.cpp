#include "runtime/rail/rail_run.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "compiler/table/abilities.h"
#include "runtime/rail/held_charge.h"
#include "runtime/rail/load_parts.h"

namespace rampart {
namespace {

using circuit::Mode;
using circuit::Setting;

enum class ModeClass : std::uint8_t { Plain, Limited, Holding, Sinking };

ModeClass class_of(Mode mode) {
  switch (mode) {
    case Mode::ConstantCurrent:
    case Mode::Clamped:
      return ModeClass::Limited;
    case Mode::Holding:
      return ModeClass::Holding;
    case Mode::Sinking:
      return ModeClass::Sinking;
    default:
      return ModeClass::Plain;
  }
}

EventKind enter_of(ModeClass mode) {
  return mode == ModeClass::Limited   ? EventKind::CcEnter
         : mode == ModeClass::Holding ? EventKind::HoldingEnter
                                      : EventKind::SinkEnter;
}

EventKind exit_of(ModeClass mode) {
  return mode == ModeClass::Limited   ? EventKind::CcExit
         : mode == ModeClass::Holding ? EventKind::HoldingExit
                                      : EventKind::SinkExit;
}

// Records of chatter kept for one rail.
constexpr std::size_t kMaxChatters = 100;

}  // namespace

RailRun::RailRun(const Table& table, const RailSetup& setup, const RailLoad* load, const RailDeviation& deviation,
                 EventLog& events)
    : rail_(setup.rail),
      load_(load),
      events_(&events),
      sign_(table.profile()[setup.rail].reversed ? -1 : 1),
      output_(output_of(table, setup)),
      setpoint_(table, setup, deviation),
      circuit_(circuit_of(load, output_)),
      protection_(table.profile()[setup.rail].protection, deviation),
      heat_(heat_of(table, setup)),
      sums_(load != nullptr ? load->elements.size() : 0),
      settling_(rules::voltage_accuracy(table, setup.rail), output_.headroom.has_value()) {
  const Abilities abilities = abilities_of(table, setup.rail);
  output_name_ = abilities.name;
  if (abilities.power) power_envelope_ = abilities.power->value.to_double();
  stored_at_start_ = circuit_->stored_energy();
  effort_.set_clock(!circuit_->periods().empty());
}

std::unique_ptr<RailRun> RailRun::trial(EventLog& events) const {
  std::unique_ptr<RailRun> result(new RailRun(*this));
  result->events_ = &events;
  if (replaced_) result->load_ = &*result->replaced_;
  result->sums_ = RailSums(sums_.elements.size());
  result->current_ = result->power_ = result->voltage_ = {};
  result->marks_.clear();
  return result;
}

void RailRun::continue_as(const RailRun& other, const Instant& by, const Instant& pass_began, const PassShift& passes) {
  setpoint_ = other.setpoint_;
  setpoint_.shift(by);
  setpoint_.put_off_contact(by);
  circuit_ = circuit::OwnedCircuit(other.circuit_);
  protection_.continue_as(other.protection_, by);
  settling_.continue_as(other.settling_, by, pass_began, passes);
  const bool is_limited = limited_since_ && other.limited_since_ && other.limited_since_->since(pass_began) < 0;
  if (!is_limited) {
    limited_since_ = other.limited_since_;
    if (limited_since_) limited_since_ = limited_since_->plus(by);
  }
  headroom_now_ = other.headroom_now_;
  if (headroom_now_) {
    headroom_now_->time_s += by.seconds();
    passes.apply(headroom_now_->passes);
  }
  const auto take = [&passes](Doing& own, const Doing& from) {
    if (own.statement == from.statement && own.passes == from.passes) return;
    own = from;
    passes.apply(own.passes);
  };
  take(doing_, other.doing_);
  take(switched_on_by_, other.switched_on_by_);
  was_on_ = other.was_on_;
  pending_ = other.pending_;
}

std::vector<double> RailRun::ages(const Instant& now, const Instant& pass_began) const {
  std::vector<double> ages;
  settling_.add_ages(now, pass_began, ages);
  if (limited_since_) ages.push_back(limited_since_->since(pass_began) < 0 ? -1 : now.since(*limited_since_));
  return ages;
}

void RailRun::log(EventKind kind, const Instant& now, const Doing& doing) {
  Event event;
  event.time_s = now.seconds();
  event.rail = rail_;
  event.kind = kind;
  event.statement = doing.statement;
  event.passes = doing.passes;
  events_->add(std::move(event));
}

void RailRun::apply(const Instant& now, const Passes& passes) {
  if (!setpoint_.given()) return;
  doing_.statement = setpoint_.statement();
  doing_.passes = passes;
  const bool was_asked = setpoint_.contact().told_on();
  setpoint_.begin(now, stays_off());
  if (setpoint_.contact().told_on() && !was_asked) switched_on_by_ = doing_;
  take_effect(now, doing_);
}

bool RailRun::close_contact(const Instant& now) {
  if (!setpoint_.close_contact(now)) return false;
  take_effect(now, switched_on_by_);
  return true;
}

void RailRun::take_effect(const Instant& now, const Doing& cause) {
  end_headroom();
  settling_.want(setpoint_.wanted(now), *circuit_, now, cause);
  if (settling_.has_to_fall()) settling_.falls_from(stored_charge(load_, output_, *circuit_));
  circuit_->set(setpoint_.at(now));
  const bool on = circuit_->setting().on;
  if (on != was_on_ && !stays_off()) log(on ? EventKind::On : EventKind::Off, now, cause);
  was_on_ = on;
  effort_.take_row();
  circuit_->follow(effort_.follow(), effort_.least());
  settle(pending_, now);
}

bool RailRun::rests(const Instant& now) const {
  const Setting& setting = circuit_->setting();
  const bool stands = setting.voltage_slope == 0 && setting.limit_slope == 0;
  return stands && !setpoint_.corner(now) && !setpoint_.contact().due();
}

void RailRun::settle_pending(const Instant& now) {
  if (!pending_) return;
  circuit_->set(setpoint_.at(now));
  settle(pending_, now);
}

void RailRun::settle(std::optional<Mode> expected, const Instant& now) {
  pending_.reset();
  const Mode before = circuit_->mode();
  settle_circuit(expected);
  note_modes(before, now);
}

void RailRun::settle_circuit(std::optional<Mode> expected) {
  circuit_->settle(expected);
  if (const auto jump = circuit_->take_jump()) sums_.elements[jump->element].add(jump->lost);
}

void RailRun::note_modes(Mode before, const Instant& now) {
  if (before == Mode::HeadroomLimited && circuit_->mode() != before) end_headroom();
  const ModeClass from = class_of(before);
  const ModeClass to = class_of(circuit_->mode());
  if (from == to) return;
  if (from != ModeClass::Plain) log(exit_of(from), now);
  if (from == ModeClass::Limited) end_limited(now);
  if (to == ModeClass::Limited) limited_since_ = now;
  if (to != ModeClass::Plain) log(enter_of(to), now);
}

void RailRun::end_limited(const Instant& now) {
  if (!limited_since_) return;
  const double time = now.since(*limited_since_);
  if (time > longest_limited_.value * (1 + 1e-12)) {
    longest_limited_ = {time, now.seconds(), doing_.statement, doing_.passes};
  }
  limited_since_.reset();
}

std::optional<TripCause> RailRun::plan(const Instant& now, double length, double to_row) {
  settle_pending(now);
  circuit_->set(setpoint_.at(now));
  bound_effort(now, length, to_row);
  circuit_->plan(length);
  effort_.planned(circuit_->piece().length);
  protection_.update(*circuit_, now, doing_);
  if (!circuit_->setting().on) return std::nullopt;
  if (const std::optional<TripCause> cause = protection_.acts(now)) return cause;
  const bool hot = std::any_of(heat_.begin(), heat_.end(), [](const OutputHeat& heat) { return heat.too_hot(); });
  return hot ? std::optional(TripCause::Overtemperature) : std::nullopt;
}

void RailRun::bound_effort(const Instant& now, double length, double to_row) {
  const std::optional<RailEffort::GivenUp> given_up = effort_.prepare(length, to_row);
  circuit_->follow(effort_.follow(), effort_.least());
  if (!given_up) return;
  settle(std::nullopt, now);
  if (chatter_.size() >= kMaxChatters) return;
  chatter_.push_back({rail_, now.seconds(), given_up->count, doing_.statement, doing_.passes, given_up->kind});
}

double RailRun::quiet_time(const Instant& now) {
  double quiet = protection_.quiet_time(*circuit_, now);
  if (!circuit_->setting().on) return quiet;
  for (const OutputHeat& heat : heat_) quiet = std::min(quiet, heat.time_to_limit(circuit_->piece()));
  return quiet;
}

void RailRun::advance(const Instant& from) {
  const double length = circuit_->piece().length;
  add_piece(*circuit_, sums_);
  update_peaks(from);
  limit_room_.advance(*circuit_, from, doing_);
  settling_.advance(*circuit_, from);
  watch_headroom(from);
  for (OutputHeat& heat : heat_) heat.advance(circuit_->piece(), from, doing_);
  protection_.advanced(length);
  pending_ = circuit_->changes_to();
  effort_.advance(length, pending_.has_value(), circuit_->change_is_timed());
  circuit_->advance();
}

void RailRun::trip(TripCause cause, const Instant& now) {
  if (tripped()) return;
  protection_.note(now, doing_);
  settling_.forget();
  trip_ = Trip{cause, now.seconds(), doing_.statement, doing_.passes};
  log(EventKind::Trip, now);
  switch_off(now);
}

void RailRun::cut_off(const Instant& now) {
  if (stays_off()) return;
  protection_.note(now, doing_);
  settling_.forget();
  cut_off_ = true;
  if (was_on_) log(EventKind::Off, now);
  switch_off(now);
}

void RailRun::switch_off(const Instant& now) {
  setpoint_.begin(now, true);
  circuit_->set(setpoint_.at(now));
  pending_.reset();
  settle(std::nullopt, now);
  protection_.clear(now, doing_);
}

void RailRun::replace_load(const std::vector<LoadElement>& elements, const Instant& now) {
  RailLoad next = load_ != nullptr ? *load_ : RailLoad{};
  const std::vector<LoadElement> old = std::exchange(next.elements, elements);
  for (LoadElement& element : next.elements) {
    const auto kept =
        std::find_if(old.begin(), old.end(), [&](const LoadElement& one) { return one.what == element.what; });
    if (kept != old.end()) start_from(element.what, circuit_->held_by(static_cast<std::size_t>(kept - old.begin())));
  }
  for (const Sum& element : sums_.elements) lost_in_replaced_.push_back(element.value());
  const double stored = circuit_->stored_energy();
  const Mode before = circuit_->mode();
  const double output_voltage = circuit_->terminal_voltage();
  replaced_ = std::move(next);
  load_ = &*replaced_;
  circuit_ = circuit_of(load_, output_, output_voltage);
  sums_.elements.assign(load_->elements.size(), Sum{});
  effort_.set_clock(!circuit_->periods().empty());
  circuit_->follow(effort_.follow(), effort_.least());
  stored_at_start_ += circuit_->stored_energy() - stored;
  protection_.forget_course();
  pending_.reset();
  log(EventKind::Fault, now);
  circuit_->set(setpoint_.at(now));
  settle_circuit(std::nullopt);
  note_modes(before, now);
}

void RailRun::turn_corner(const Instant& now) {
  setpoint_.begin(now, stays_off());
  const Setting next = setpoint_.at(now);
  const Setting& present = circuit_->setting();
  if (next.voltage_slope == present.voltage_slope && next.limit_slope == present.limit_slope) return;
  circuit_->set(next);
  settle(pending_, now);
}

void RailRun::shift(const Instant& by, const Instant& pass_began) {
  protection_.shift(by);
  setpoint_.shift(by);
  settling_.shift(by, pass_began);
  // A limit phase older than the pass fills it and goes on through all passes that were added.
  if (limited_since_ && limited_since_->since(pass_began) >= 0) limited_since_ = limited_since_->plus(by);
}

std::int64_t RailRun::safe_repeats(const State& before, double length, std::int64_t most) const {
  std::int64_t times = most;
  for (std::size_t i = 0; i < heat_.size(); ++i) {
    times = std::min(times, heat_[i].safe_repeats(before.temperatures[i], length, most));
  }
  return times;
}

void RailRun::repeat_heat(const State& before, double length, std::int64_t times) {
  for (std::size_t i = 0; i < heat_.size(); ++i) heat_[i].repeat(before.temperatures[i], length, times);
}

void RailRun::finish(const Instant& now) {
  protection_.note(now, doing_);
  settling_.finish(*circuit_, now);
  end_headroom();
  if (limited_since_) {
    const std::optional<Instant> since = limited_since_;
    end_limited(now);
    limited_since_ = since;
  }
}

void RailRun::drift_to(const std::vector<double>& numbers) {
  std::copy(numbers.begin(), numbers.end(), circuit_->affine_state().begin());
}

RailWay RailRun::way() const {
  const auto holds = [](const std::optional<DelayedTrip>& condition) { return condition && condition->holds(); };
  return {circuit_->mode(), holds(protection_.fuse()), holds(protection_.overpower())};
}

}  // namespace rampart
