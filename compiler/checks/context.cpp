#include "compiler/checks/context.h"

#include <algorithm>

#include "compiler/checks/moves.h"
#include "lang/findings/practice.h"
#include "lang/findings/timeline.h"

namespace rampart::checks {
namespace {

constexpr int kMaxCallsShown = 8;

// The smallest value that both are whole divisors of; an overflowed one stands for none.
Rational common_multiple(const Rational& a, const Rational& b) {
  const Rational ratio = a / b;
  if (ratio.overflowed()) return ratio;
  return b * Rational::fraction(ratio.numerator(), 1);
}

void join_voltage(Abilities& abilities, const OutputLimits& limits) {
  Range<Volts>& range = abilities.voltage.value;
  if (abilities.series) {
    range.low = range.low + limits.voltage.value.low;
    range.high = range.high + limits.voltage.value.high;
    abilities.voltage_resolution = std::min(abilities.voltage_resolution, limits.voltage_resolution);
  } else {
    range.low = std::max(range.low, limits.voltage.value.low);
    range.high = std::min(range.high, limits.voltage.value.high);
    abilities.voltage_resolution =
        Volts{common_multiple(abilities.voltage_resolution.si, limits.voltage_resolution.si)};
  }
}

void join_current(Abilities& abilities, const OutputLimits& limits) {
  Range<Amps>& range = abilities.current.value;
  if (abilities.parallel) {
    range.low = range.low + limits.current.value.low;
    range.high = range.high + limits.current.value.high;
    abilities.current_resolution = std::min(abilities.current_resolution, limits.current_resolution);
  } else {
    range.low = std::max(range.low, limits.current.value.low);
    range.high = std::min(range.high, limits.current.value.high);
    abilities.current_resolution = Amps{common_multiple(abilities.current_resolution.si, limits.current_resolution.si)};
  }
}

// What the combination can give until the first of its members has given all it can.
void join_power(Abilities& abilities) {
  abilities.power.reset();
  for (const Channel* member : abilities.members) {
    if (!member->limits.power) continue;
    const Watts whole{member->limits.power->value.si / abilities.share_of(*member)};
    if (!abilities.power || whole < abilities.power->value) abilities.power = {whole, {}};
  }
}

// A channel without a slew rate puts none on the combination.
void join_slew(Abilities& abilities, const Channel& channel) {
  if (abilities.slew && channel.slew && abilities.series) {
    abilities.slew->up = abilities.slew->up + channel.slew->up;
    abilities.slew->down = abilities.slew->down + channel.slew->down;
  } else if (abilities.slew && channel.slew) {
    abilities.slew->up = std::min(abilities.slew->up, channel.slew->up);
    abilities.slew->down = std::min(abilities.slew->down, channel.slew->down);
  } else if (abilities.series) {
    abilities.slew.reset();
  } else if (channel.slew) {
    abilities.slew = channel.slew;
  }
}

}  // namespace

Rational Abilities::share_of(const Channel& member) const {
  if (series) return member.limits.voltage.value.high.si / voltage.value.high.si;
  if (parallel) return member.limits.current.value.high.si / current.value.high.si;
  return Rational(1);
}

bool is_judged_with_load(std::string_view finding) {
  return finding == finding::LeadDrop.wording.name;
}

Abilities abilities_of(const Table& table, RailId rail) {
  const RailSetup& setup = table.rails()[static_cast<std::size_t>(rail)];
  const Bench& bench = table.bench();
  Abilities abilities;
  for (const ChannelId member : setup.members) abilities.members.push_back(&bench[member]);
  const Channel& first = *abilities.members.front();
  abilities.series = setup.arrangement == Arrangement::Series;
  abilities.parallel = setup.arrangement == Arrangement::Parallel;
  const auto* combination = std::get_if<CombinationId>(&table.profile()[rail].output);
  abilities.name = combination != nullptr ? bench[*combination].name : first.name;
  abilities.voltage = first.limits.voltage;
  abilities.current = first.limits.current;
  abilities.voltage_resolution = first.limits.voltage_resolution;
  abilities.current_resolution = first.limits.current_resolution;
  abilities.power = first.limits.power;
  abilities.slew = first.slew;
  abilities.timing = bench.timing_of(setup.members);
  for (std::size_t i = 1; i < abilities.members.size(); ++i) {
    const Channel& channel = *abilities.members[i];
    join_voltage(abilities, channel.limits);
    join_current(abilities, channel.limits);
    join_slew(abilities, channel);
  }
  if (abilities.members.size() > 1) join_power(abilities);
  if (combination != nullptr) {
    abilities.voltage.span = bench[*combination].span;
    abilities.current.span = bench[*combination].span;
    if (abilities.power) abilities.power->span = bench[*combination].span;
  }
  return abilities;
}

Context::Context(const Table& run_table, const Table* safe_table, FindingSink& sink)
    : profile(run_table.profile()),
      bench(run_table.bench()),
      run(run_table),
      safe(safe_table),
      findings_(sink),
      acceptance_used_(profile.acceptances.size(), false) {
  for (std::size_t i = 0; i < profile.rails.size(); ++i) {
    abilities.push_back(abilities_of(run, RailId{static_cast<std::uint32_t>(i)}));
  }
  usage = usage_of(run.timeline());
}

std::vector<const Table*> Context::tables() const {
  std::vector<const Table*> tables{&run};
  if (safe != nullptr) tables.push_back(safe);
  return tables;
}

void Context::note_calls(FindingSink::Addition& addition, const Statement& statement) const {
  int shown = 0;
  for (CallId call = statement.call; call != kNoCall && shown < kMaxCallsShown; ++shown) {
    addition.note(finding::CalledFromHere, profile.calls[call].span);
    call = profile.calls[call].caller;
  }
}

const Acceptance* Context::find_acceptance(std::string_view name, std::optional<RailId> rail) const {
  for (std::size_t i = 0; i < profile.acceptances.size(); ++i) {
    const Acceptance& acceptance = profile.acceptances[i];
    // What concerns the whole run may be accepted on any of its rails.
    if (acceptance.finding != name || (rail && acceptance.rail && acceptance.rail != rail)) continue;
    acceptance_used_[i] = true;
    return &acceptance;
  }
  return nullptr;
}

void Context::report_unused_acceptances() const {
  for (std::size_t i = 0; i < profile.acceptances.size(); ++i) {
    const Acceptance& acceptance = profile.acceptances[i];
    if (acceptance_used_[i] || is_judged_with_load(acceptance.finding)) continue;
    findings_.report(finding::AcceptUnused, acceptance.span, acceptance.finding).hint("remove it");
  }
}

}  // namespace rampart::checks
