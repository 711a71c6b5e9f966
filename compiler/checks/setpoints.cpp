#include <algorithm>

#include "compiler/checks/families.h"
#include "compiler/checks/moves.h"
#include "lang/findings/limits.h"

// Setpoints against the ranges of the channels and the ceilings of the profile. Both the exact value and the count that
// it is rounded to have to fit.
namespace rampart::checks {
namespace {

Rational rounded_to(const Rational& value, const Rational& resolution) {
  if (resolution.overflowed() || resolution.sign() == 0) return value;
  return Rational::fraction((value / resolution).rounded(), 1) * resolution;
}

// How far the value or its count lies outside of low .. high; 0 inside.
Rational outside(const Rational& value, const Rational& resolution, const Rational& low, const Rational& high) {
  const Rational count = rounded_to(value, resolution);
  const Rational above = std::max(value, count) - high;
  const Rational below = low - std::min(value, count);
  return std::max({above, below, Rational(0)});
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
    const Abilities& abilities = context.of(view.move.rail);
    const Rational value = context.profile[view.move.rail].reversed ? -view.move.to : view.move.to;
    const Range<Volts>& range = abilities.voltage.value;
    return outside(value, abilities.voltage_resolution.si, range.low.si, range.high.si);
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
    const Abilities& abilities = context.of(view.move.rail);
    const Range<Amps>& range = abilities.current.value;
    return outside(view.move.to, abilities.current_resolution.si, range.low.si, range.high.si);
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

void check_ceiling(const Context& context) {
  const WorstOccurrences worst = collect(context, MoveKind::Voltage, [&](const MoveView& view) {
    const auto& ceiling = context.profile[view.move.rail].protection.ceiling;
    if (!ceiling) return Rational(0);
    const Rational highest = abs(ceiling->value.si);
    return outside(abs(view.move.to), context.of(view.move.rail).voltage_resolution.si, 0, highest);
  });
  worst.report([&](const Occurrence& found) {
    const Rail& rail = context.profile[found.rail];
    context
        .report(finding::AboveCeiling, found.place, found.statement, rail.name, Volts{found.value},
                pass_text(found.pass), rail.protection.ceiling->value)
        .note(finding::CeilingSetHere, rail.protection.ceiling->span)
        .hint("lower the target or raise the ceiling");
  });
}

void check_resolution(const Context& context) {
  for (const MoveKind kind : {MoveKind::Voltage, MoveKind::Limit}) {
    const WorstOccurrences worst = collect(context, kind, [&](const MoveView& view) {
      const Abilities& abilities = context.of(view.move.rail);
      const Rational resolution =
          kind == MoveKind::Voltage ? abilities.voltage_resolution.si : abilities.current_resolution.si;
      return abs(rounded_to(view.move.to, resolution) - view.move.to);
    });
    worst.report([&](const Occurrence& found) {
      const Abilities& abilities = context.of(found.rail);
      const bool voltage = kind == MoveKind::Voltage;
      const Dimension unit = voltage ? dimension::kVoltage : dimension::kCurrent;
      const Rational resolution = voltage ? abilities.voltage_resolution.si : abilities.current_resolution.si;
      const Quantity nearest{rounded_to(found.value, resolution), unit};
      context
          .report(finding::BelowResolution, found.place, found.statement, Quantity{found.value, unit},
                  pass_text(found.pass), Quantity{resolution, unit}, abilities.name, nearest)
          .hint("write a multiple of " + to_text(Quantity{resolution, unit}) + ", such as " + to_text(nearest));
    });
  }
}

}  // namespace rampart::checks
