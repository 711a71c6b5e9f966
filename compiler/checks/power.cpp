#include "compiler/checks/families.h"
#include "compiler/checks/moves.h"
#include "lang/findings/limits.h"

// Setpoint times current limit against what channels and supplies can give. Beyond it the limit cannot be delivered.
namespace rampart::checks {
namespace {

RailState after(const MoveView& view) {
  RailState state = view.before;
  if (view.move.kind == MoveKind::Voltage) state.voltage = view.move.to;
  if (view.move.kind == MoveKind::Limit) state.limit = view.move.to;
  if (view.move.kind == MoveKind::Output) state.on = view.move.to.sign() > 0;
  return state;
}

Rational power_of(const RailState& state) {
  return state.on ? abs(state.voltage) * state.limit : Rational(0);
}

}  // namespace

void check_power_envelope(const Context& context) {
  WorstOccurrences worst;
  for (const Table* table : context.tables()) {
    walk_moves(table->timeline(), [&](const MoveView& view) {
      const Abilities& abilities = context.of(view.move.rail);
      if (!abilities.power) return;
      const Rational power = power_of(after(view));
      const Rational excess = power - abilities.power->value.si;
      if (excess.sign() <= 0) return;
      worst.meet_of_rail({view.move.rail, place_of(view.move), view.move.statement, view.pass, power, excess});
    });
  }
  worst.report([&](const Occurrence& found) {
    const Abilities& abilities = context.of(found.rail);
    context
        .report(finding::PowerEnvelope, found.place, found.statement, context.profile[found.rail].name,
                Watts{found.value}, pass_text(found.pass), abilities.power->value, abilities.name)
        .note(finding::PowerGivenHere, abilities.power->span)
        .hint("lower the current limit: above that power it is not the limit that acts");
  });
}

void check_total_power(const Context& context) {
  for (std::size_t i = 0; i < context.bench.supplies.size(); ++i) {
    const Supply& supply = context.bench.supplies[i];
    if (!supply.power) continue;
    // By rail: a combination over several supplies draws from each of them.
    std::vector<Rational> shares;
    for (const Abilities& abilities : context.abilities) {
      Rational share;
      for (const Channel* member : abilities.members) {
        if (member->supply == SupplyId{static_cast<std::uint32_t>(i)}) share = share + abilities.share_of(*member);
      }
      shares.push_back(share);
    }
    std::optional<Occurrence> worst;
    for (const Table* table : context.tables()) {
      walk_moves(table->timeline(), [&](const MoveView& view) {
        Rational total;
        const bool involved = shares[static_cast<std::size_t>(view.move.rail)].sign() > 0;
        for (std::size_t rail = 0; rail < shares.size(); ++rail) {
          const bool moves = rail == static_cast<std::size_t>(view.move.rail);
          total = total + shares[rail] * power_of(moves ? after(view) : view.rails[rail]);
        }
        const Rational excess = total - supply.power->value.si;
        if (!involved || excess.sign() <= 0 || (worst && excess <= worst->excess)) return;
        worst = Occurrence{view.move.rail, place_of(view.move), view.move.statement, view.pass, total, excess};
      });
    }
    if (!worst) continue;
    context
        .report(finding::TotalPower, worst->place, worst->statement, supply.name, Watts{worst->value},
                pass_text(worst->pass), supply.power->value)
        .note(finding::PowerGivenHere, supply.power->span)
        .hint("lower the current limits of its rails, or move one to another supply");
  }
}

}  // namespace rampart::checks
