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
                 double reach, EventLog& events)
    : rail_(setup.rail),
      events_(&events),
      sign_(table.profile()[setup.rail].reversed ? -1 : 1),
      load_(load != nullptr ? std::make_shared<const RailLoad>(*load) : nullptr),
      output_(output_of(table, setup)),
      course_{.setpoint = Setpoint(table, setup, deviation),
              .group = Group(circuit_of(load, output_)),
              .protection = RailProtection(table.profile()[setup.rail].protection, deviation),
              .settling = Settling(deviation.is_certain ? std::nullopt : rules::voltage_accuracy(table, setup.rail),
                                   output_.headroom.has_value()),
              .headroom = HeadroomWatch(output_.headroom),
              .past = Past(reach, output_.headroom.has_value())},
      heat_(heat_of(table, setup)),
      record_(load != nullptr ? load->elements.size() : 0) {
  const Abilities abilities = abilities_of(table, setup.rail);
  if (abilities.power) envelope_ = PowerEnvelope{abilities.name, abilities.power->value.to_double()};
  record_.stored_at_start = course_.group->stored_energy();
  effort_.set_clock(!course_.group->periods().empty());
  course_.group->read_running(course_.running);
}

std::unique_ptr<RailRun> RailRun::fork(EventLog& events) const {
  std::unique_ptr<RailRun> result(new RailRun(*this));
  result->events_ = &events;
  return result;
}

std::unique_ptr<RailRun> RailRun::trial(EventLog& events) const {
  std::unique_ptr<RailRun> result = fork(events);
  result->record_ = RailRecord(record_.sums.elements.size());
  return result;
}

Event RailRun::event_of(EventKind kind, const Instant& now, const Doing& doing) const {
  Event event;
  event.time_s = now.seconds();
  event.rail = rail_;
  event.kind = kind;
  event.statement = doing.statement;
  event.passes = doing.passes;
  return event;
}

void RailRun::apply(const Instant& now, const Passes& passes) {
  if (!course_.setpoint.given()) return;
  course_.doing.statement = course_.setpoint.statement();
  course_.doing.passes = passes;
  const bool was_asked = course_.setpoint.contact().told_on();
  course_.setpoint.begin(now, stays_off());
  if (course_.setpoint.contact().told_on() && !was_asked) course_.switched_on_by = course_.doing;
  take_effect(now, course_.doing);
}

bool RailRun::close_contact(const Instant& now) {
  if (!course_.setpoint.close_contact(now)) return false;
  take_effect(now, course_.switched_on_by);
  return true;
}

void RailRun::take_effect(const Instant& now, const Doing& cause) {
  course_.turns = false;
  course_.headroom.end(course_.settling);
  course_.settling.want(course_.setpoint.wanted(now), *course_.group, now, cause);
  if (course_.settling.has_to_fall()) course_.settling.falls_from(stored_charge(load_.get(), output_, *course_.group));
  course_.group->set(course_.setpoint.at(now));
  const bool on = course_.group->setting().on;
  if (on != course_.was_on && !stays_off()) log(on ? EventKind::On : EventKind::Off, now, cause);
  course_.was_on = on;
  effort_.take_row();
  course_.group->follow(effort_.follow(), effort_.least());
  settle(course_.pending, now);
}

bool RailRun::rests(const Instant& now) const {
  const Setting& setting = course_.group->setting();
  const bool stands = setting.voltage_slope == 0 && setting.limit_slope == 0;
  return stands && !course_.setpoint.corner(now) && !course_.setpoint.contact().due();
}

void RailRun::settle_pending(const Instant& now) {
  if (!course_.pending) return;
  course_.group->set(course_.setpoint.at(now));
  settle(course_.pending, now);
}

void RailRun::settle(std::optional<Mode> expected, const Instant& now) {
  course_.pending.reset();
  const Mode before = course_.group->mode();
  settle_circuit(expected);
  note_modes(before, now);
}

void RailRun::settle_circuit(std::optional<Mode> expected) {
  course_.group->settle(expected);
  if (const auto jump = course_.group->take_jump()) record_.sums.elements[jump->element].add(jump->lost);
}

void RailRun::note_modes(Mode before, const Instant& now) {
  if (before == Mode::HeadroomLimited && course_.group->mode() != before) course_.headroom.end(course_.settling);
  note_running(now);
  const ModeClass from = class_of(before);
  const ModeClass to = class_of(course_.group->mode());
  if (from == to) return;
  if (from != ModeClass::Plain) log(exit_of(from), now);
  if (from == ModeClass::Limited) course_.limited.end(now, course_.doing);
  if (to == ModeClass::Limited) course_.limited.begin(now);
  if (to != ModeClass::Plain) log(enter_of(to), now);
}

void RailRun::note_running(const Instant& now) {
  course_.group->read_running(seen_);
  for (std::size_t i = 0; i < seen_.size(); ++i) {
    if (seen_[i].runs == course_.running[i].runs) continue;
    Event event = event_of(seen_[i].runs ? EventKind::Starts : EventKind::Stops, now, course_.doing);
    event.part = load_->name_of(seen_[i].element);
    events_->add(std::move(event));
  }
  course_.running.swap(seen_);
}

std::optional<TripCause> RailRun::plan(const Instant& now, const Stops& stops) {
  settle_pending(now);
  course_.group->set(course_.setpoint.at(now));
  const std::optional<Instant> corner = course_.setpoint.corner(now);
  course_.turns = corner && corner->since(stops.row) < 0 && corner->since(stops.any) <= 0;
  const Instant& until = course_.turns ? *corner : stops.any;
  bound_effort(now, until.since(now), stops.row.since(now));
  course_.group.plan(now, until);
  effort_.planned(course_.group->piece().length);
  course_.protection.update(*course_.group, now, course_.doing);
  if (!course_.group->setting().on) return std::nullopt;
  if (const std::optional<TripCause> cause = course_.protection.acts(now)) return cause;
  const bool hot = std::any_of(heat_.begin(), heat_.end(), [](const OutputHeat& heat) { return heat.too_hot(); });
  return hot ? std::optional(TripCause::Overtemperature) : std::nullopt;
}

void RailRun::bound_effort(const Instant& now, double length, double to_row) {
  const std::optional<RailEffort::GivenUp> given_up = effort_.prepare(length, to_row);
  course_.group->follow(effort_.follow(), effort_.least());
  if (!given_up) return;
  settle(std::nullopt, now);
  if (record_.chatter.size() >= kMaxChatters) return;
  record_.chatter.push_back(
      {rail_, now.seconds(), given_up->count, course_.doing.statement, course_.doing.passes, given_up->kind});
}

void RailRun::bound_step(const Instant& now) {
  double quiet = course_.protection.quiet_time(*course_.group, now);
  if (course_.group->setting().on) {
    for (const OutputHeat& heat : heat_) quiet = std::min(quiet, heat.time_to_limit(course_.group->piece()));
  }
  course_.group.bound(quiet);
}

bool RailRun::end_step(const Instant& now) {
  if (course_.group.end_at(now)) return true;
  course_.turns = false;
  return false;
}

void RailRun::advance() {
  const Instant from = course_.group.begins();
  const double length = course_.group->piece().length;
  add_piece(*course_.group, record_.sums);
  record_.peaks.advance(*course_.group, output_.capacitance != 0, from, course_.doing);
  record_.limit_room.advance(*course_.group, from, course_.doing);
  course_.settling.advance(*course_.group, from);
  course_.headroom.advance(*course_.group, from, course_.doing);
  course_.past.advance(*course_.group, from);
  for (OutputHeat& heat : heat_) heat.advance(course_.group->piece(), from, course_.doing);
  course_.protection.advanced(length);
  course_.pending = course_.group->changes_to();
  effort_.advance(length, course_.pending.has_value(), course_.group->change_is_timed());
  course_.turns = course_.turns && course_.group.is_whole();
  course_.group.advance();
}

void RailRun::trip(TripCause cause, const Instant& now) {
  if (tripped()) return;
  course_.protection.note(now, course_.doing);
  course_.settling.forget();
  trip_ = Trip{cause, now.seconds(), course_.doing.statement, course_.doing.passes};
  log(EventKind::Trip, now);
  switch_off(now);
}

void RailRun::cut_off(const Instant& now) {
  if (stays_off()) return;
  course_.protection.note(now, course_.doing);
  course_.settling.forget();
  cut_off_ = true;
  if (course_.was_on) log(EventKind::Off, now);
  switch_off(now);
}

void RailRun::interrupt(const Instant& now) {
  course_.settling.forget();
  course_.turns = false;
  course_.setpoint.halt(now);
  course_.setpoint.begin(now, stays_off());
}

void RailRun::switch_off(const Instant& now) {
  course_.turns = false;
  course_.setpoint.begin(now, true);
  course_.group->set(course_.setpoint.at(now));
  course_.pending.reset();
  settle(std::nullopt, now);
  course_.protection.clear(now, course_.doing);
}

void RailRun::replace_load(const std::vector<LoadElement>& elements, const Instant& now) {
  RailLoad next = load_ != nullptr ? *load_ : RailLoad{};
  const std::vector<LoadElement> old = std::exchange(next.elements, elements);
  for (LoadElement& element : next.elements) {
    const auto kept =
        std::find_if(old.begin(), old.end(), [&](const LoadElement& one) { return one.what == element.what; });
    if (kept != old.end()) {
      start_from(element.what, course_.group->held_by(static_cast<std::size_t>(kept - old.begin())));
    }
  }
  for (const Sum& element : record_.sums.elements) record_.lost_in_replaced.push_back(element.value());
  const double stored = course_.group->stored_energy();
  const Mode before = course_.group->mode();
  const double output_voltage = course_.group->terminal_voltage();
  load_ = std::make_shared<const RailLoad>(std::move(next));
  course_.group = Group(circuit_of(load_.get(), output_, output_voltage));
  record_.sums.elements.assign(load_->elements.size(), Sum{});
  effort_.set_clock(!course_.group->periods().empty());
  course_.group->follow(effort_.follow(), effort_.least());
  record_.stored_at_start += course_.group->stored_energy() - stored;
  course_.protection.forget_course();
  course_.pending.reset();
  log(EventKind::Fault, now);
  course_.group->read_running(course_.running);
  course_.group->set(course_.setpoint.at(now));
  settle_circuit(std::nullopt);
  note_modes(before, now);
}

void RailRun::turn_corner(const Instant& now) {
  if (!std::exchange(course_.turns, false)) return;
  course_.setpoint.begin(now, stays_off());
  const Setting next = course_.setpoint.at(now);
  const Setting& present = course_.group->setting();
  if (next.voltage_slope == present.voltage_slope && next.limit_slope == present.limit_slope) return;
  course_.group->set(next);
  settle(course_.pending, now);
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
  course_.protection.note(now, course_.doing);
  course_.settling.finish(*course_.group, now);
  course_.headroom.end(course_.settling);
  course_.limited.note(now, course_.doing);
}

void RailRun::drift_to(const std::vector<double>& numbers) {
  std::copy(numbers.begin(), numbers.end(), course_.group->affine_state().begin());
}

RailWay RailRun::way() const {
  const auto holds = [](const std::optional<DelayedTrip>& condition) { return condition && condition->holds(); };
  return {course_.group->mode(), holds(course_.protection.fuse()), holds(course_.protection.overpower())};
}

}  // namespace rampart
