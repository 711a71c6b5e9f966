#include <algorithm>

#include "compiler/checks/families.h"
#include "compiler/checks/moves.h"
#include "compiler/table/rail_output.h"
#include "lang/findings/limits.h"

// Setpoints against the ranges of the channels and the ceilings of the profile. Both the exact value and the count that
// it is rounded to have to fit.
namespace rampart::checks {
namespace {

// How far the value or what it is set to lies outside of low .. high; 0 inside.
Rational outside(const Rational& value, const Rational& set, const Rational& low, const Rational& high) {
  return std::max({std::max(value, set) - high, low - std::min(value, set), Rational(0)});
}

// What a rail is set to where the profile says `value`.
Rational set_value(const Context& context, RailId rail, MoveKind kind, const Rational& value) {
  const Shares& shares = context.of(rail).shares;
  if (kind == MoveKind::Limit) return shares.settable_current(value);
  const bool reversed = context.profile[rail].reversed;
  const Rational set = shares.settable_voltage(reversed ? -value : value);
  return reversed ? -set : set;
}

Occurrence occurrence_of(const MoveView& view, const Rational& value, const Rational& excess) {
  return {view.move.rail, place_of(view.move), view.move.statement, view.pass, value, excess};
}

// Where a move of the kind begins by jumping elsewhere its start is a setpoint as well, but then a move of its own.
template <class Excess>
WorstOccurrences collect(const Context& context, MoveKind kind, Excess&& excess_of) {
  WorstOccurrences worst;
  for (const Table* table : context.tables()) {
    walk_moves(table->timeline(), [&](const MoveView& view) {
      if (view.move.kind != kind) return;
      const Rational excess = excess_of(view);
      if (excess.sign() > 0) worst.meet(occurrence_of(view, view.move.to, excess));
    });
  }
  return worst;
}

}  // namespace

void check_voltage_range(const Context& context) {
  const WorstOccurrences worst = collect(context, MoveKind::Voltage, [&](const MoveView& view) {
    const bool reversed = context.profile[view.move.rail].reversed;
    const Range<Volts>& range = context.of(view.move.rail).voltage.value;
    return outside(view.move.to, set_value(context, view.move.rail, MoveKind::Voltage, view.move.to),
                   reversed ? -range.high.si : range.low.si, reversed ? -range.low.si : range.high.si);
  });
  worst.report([&](const Occurrence& found) {
    const Rail& rail = context.profile[found.rail];
    const Abilities& abilities = context.of(found.rail);
    const Range<Volts> range = abilities.voltage.value;
    const Volts low = rail.reversed ? -range.high : range.low;
    const Volts high = rail.reversed ? -range.low : range.high;
    auto addition = context.report(finding::VoltageRange, found.place, found.statement, rail.name, Volts{found.value},
                                   pass_text(found.pass), low, high, abilities.name);
    addition.note(finding::RangeGivenHere, abilities.voltage.span);
    const bool wrong_sign = rail.reversed ? found.value > high.si : found.value < low.si && low.si.sign() == 0;
    if (wrong_sign) {
      addition.hint(rail.reversed ? "the rail is reversed: write its setpoints as negative voltages"
                                  : "a negative rail is declared with `reversed`");
    } else {
      addition.hint("stay at or " + std::string(found.value > high.si ? "below " : "above ") +
                    to_text(found.value > high.si ? high : low) + ", or put the rail on another channel");
    }
  });
}

void check_current_range(const Context& context) {
  const WorstOccurrences worst = collect(context, MoveKind::Limit, [&](const MoveView& view) {
    const Range<Amps>& range = context.of(view.move.rail).current.value;
    return outside(view.move.to, set_value(context, view.move.rail, MoveKind::Limit, view.move.to), range.low.si,
                   range.high.si);
  });
  worst.report([&](const Occurrence& found) {
    const Abilities& abilities = context.of(found.rail);
    const Range<Amps>& range = abilities.current.value;
    const bool above = found.value > range.high.si;
    context
        .report(finding::CurrentRange, found.place, found.statement, context.profile[found.rail].name,
                Amps{found.value}, pass_text(found.pass), range.low, range.high, abilities.name)
        .note(finding::RangeGivenHere, abilities.current.span)
        .hint("set " + to_text(above ? range.high : range.low) + (above ? " or less" : " or more"));
  });
}

void check_zero_limit(const Context& context) {
  std::vector<RailOutput> outputs;
  for (const RailSetup& setup : context.run.rails()) outputs.emplace_back(context.run, setup.rail);
  std::vector<MemberCounts> counts;
  const WorstOccurrences worst = collect(context, MoveKind::Limit, [&](const MoveView& view) {
    const Range<Amps>& range = context.of(view.move.rail).current.value;
    const Rational set = set_value(context, view.move.rail, MoveKind::Limit, view.move.to);
    const bool reported = outside(view.move.to, set, range.low.si, range.high.si).sign() > 0;
    outputs[static_cast<std::size_t>(view.move.rail)].set(Rational(0), view.move.to, counts);
    const bool none = std::any_of(counts.begin(), counts.end(), [](const MemberCounts& c) { return c.current == 0; });
    // The least of one place is the worst.
    return none && !reported ? Rational(1) / (Rational(1) + view.move.to) : Rational(0);
  });
  worst.report([&](const Occurrence& found) {
    const Abilities& abilities = context.of(found.rail);
    auto addition =
        context.report(finding::LimitBecomesNone, found.place, found.statement, context.profile[found.rail].name,
                       Amps{found.value}, pass_text(found.pass), abilities.name);
    addition.note(finding::RangeGivenHere, abilities.current.span);
    const bool alone = abilities.members.size() == 1;
    addition.hint(alone
                      ? "set " + to_text(Amps{abilities.shares.current_step()}) + " or more: it is set in steps of that"
                      : "set more, so that each of its channels gets a limit");
  });
}

void check_ceiling(const Context& context) {
  const WorstOccurrences worst = collect(context, MoveKind::Voltage, [&](const MoveView& view) {
    const auto& ceiling = context.profile[view.move.rail].protection.ceiling;
    // A voltage of the wrong sign is out of the channel's range, and that is all there is to say.
    const bool wrong_sign =
        context.profile[view.move.rail].reversed ? view.move.to.sign() > 0 : view.move.to.sign() < 0;
    if (!ceiling || wrong_sign) return Rational(0);
    const Rational highest = abs(ceiling->value.si);
    return outside(abs(view.move.to), abs(set_value(context, view.move.rail, MoveKind::Voltage, view.move.to)), 0,
                   highest);
  });
  worst.report([&](const Occurrence& found) {
    const Rail& rail = context.profile[found.rail];
    // A coarse supply may be set above it by rounding alone.
    const bool is_rounded = abs(found.value) <= abs(rail.protection.ceiling->value.si);
    const Rational set = is_rounded ? set_value(context, found.rail, MoveKind::Voltage, found.value) : found.value;
    context
        .report(finding::AboveCeiling, found.place, found.statement, rail.name, Volts{set}, pass_text(found.pass),
                rail.protection.ceiling->value)
        .note(finding::CeilingSetHere, rail.protection.ceiling->span)
        .hint("lower the target or raise the ceiling");
  });
}

void check_resolution(const Context& context) {
  for (const MoveKind kind : {MoveKind::Voltage, MoveKind::Limit}) {
    const WorstOccurrences worst = collect(context, kind, [&](const MoveView& view) {
      const Rational set = set_value(context, view.move.rail, kind, view.move.to);
      // A limit that becomes none is an error of its own.
      if (kind == MoveKind::Limit && set.sign() == 0) return Rational(0);
      return abs(set - view.move.to);
    });
    worst.report([&](const Occurrence& found) {
      const Abilities& abilities = context.of(found.rail);
      const bool voltage = kind == MoveKind::Voltage;
      const Dimension unit = voltage ? dimension::kVoltage : dimension::kCurrent;
      const Quantity value{found.value, unit};
      const Quantity step{voltage ? abilities.shares.voltage_step() : abilities.shares.current_step(), unit};
      const Quantity nearest{set_value(context, found.rail, kind, found.value), unit};
      // Members of unlike counts cannot be set to each multiple of the finest.
      if (step.value.overflowed() || (found.value / step.value).is_whole()) {
        context
            .report(finding::BelowResolutionShared, found.place, found.statement, value, pass_text(found.pass),
                    abilities.name, nearest)
            .hint("write a value that all of them can be set to, such as " + to_text(nearest), to_text(nearest));
      } else {
        context
            .report(finding::BelowResolution, found.place, found.statement, value, pass_text(found.pass), step,
                    abilities.name, nearest)
            .hint("write a multiple of " + to_text(step) + ", such as " + to_text(nearest), to_text(nearest));
      }
    });
  }
}

}  // namespace rampart::checks
