#include "compiler/table/setup.h"

#include <algorithm>

#include "compiler/bench/shares.h"
#include "compiler/profile/fold_condition.h"

namespace rampart {
namespace {

std::vector<ChannelId> linked_channels(const Table& table, const Fuse& fuse) {
  std::vector<ChannelId> linked;
  for (const RailId rail : fuse.linked) {
    const std::vector<ChannelId>& members = table.rails()[static_cast<std::size_t>(rail)].members;
    linked.insert(linked.end(), members.begin(), members.end());
  }
  std::sort(linked.begin(), linked.end());
  return linked;
}

std::string term_text(const Profile& profile, const Term& term, const Rational& coefficient) {
  static constexpr std::string_view kSignals[] = {"", "current", "power", "slew"};
  const std::string& rail = profile[term.rail].name;
  const std::string_view signal = kSignals[static_cast<std::size_t>(term.signal)];
  const std::string read = signal.empty() ? rail : std::string(signal) + "(" + rail + ")";
  return coefficient == Rational(1) ? read : to_text(Quantity{coefficient, {}}) + " * " + read;
}

// Written so that the first term is not negative, with the constant on the right.
std::string comparison_text(const Profile& profile, const Comparison& comparison) {
  const LinearForm& form = comparison.form;
  const bool flipped = !form.terms.empty() && form.terms.front().coefficient.sign() < 0;
  std::string text;
  for (const Term& term : form.terms) {
    const Rational coefficient = flipped ? -term.coefficient : term.coefficient;
    if (!text.empty()) text += coefficient.sign() < 0 ? " - " : " + ";
    text += term_text(profile, term, abs(coefficient));
  }
  if (text.empty()) text = "0";
  text += flipped ? " <" : " >";
  text += comparison.strict ? " " : "= ";
  return text + to_text(Quantity{flipped ? form.constant : -form.constant, form.unit});
}

}  // namespace

std::vector<ChannelSetup> member_setups(const Table& table, RailId id) {
  const RailSetup& rail = table.rails()[static_cast<std::size_t>(id)];
  const Shares& shares = rail.shares;
  const Protection& protection = table.profile()[id].protection;
  std::vector<ChannelSetup> setups;
  for (std::size_t i = 0; i < rail.members.size(); ++i) {
    ChannelSetup setup;
    setup.channel = rail.members[i];
    setup.rail = id;
    setup.remote_sense = table.profile()[id].remote_sense;
    if (protection.overvoltage) setup.overvoltage = Volts{abs(protection.overvoltage->value.si) * shares.of_voltage(i)};
    if (protection.fuse) {
      setup.fuse = FuseSetup{protection.fuse->delay.value, {}, linked_channels(table, *protection.fuse)};
      if (protection.fuse->current) setup.fuse->current = protection.fuse->current->value * shares.of_current(i);
    }
    if (protection.overpower) {
      setup.overpower = protection.overpower->power.value * shares.of_power(i);
      setup.overpower_delay = protection.overpower->delay.value;
    }
    for (const ChannelId other : rail.members) {
      if (other != setup.channel) setup.coupled.push_back(other);
    }
    std::sort(setup.coupled.begin(), setup.coupled.end());
    setups.push_back(std::move(setup));
  }
  return setups;
}

std::vector<ChannelSetup> channel_setups(const Table& table) {
  std::vector<ChannelSetup> setups;
  for (const RailSetup& rail : table.rails()) {
    for (ChannelSetup& setup : member_setups(table, rail.rail)) setups.push_back(std::move(setup));
  }
  std::sort(setups.begin(), setups.end(),
            [](const ChannelSetup& a, const ChannelSetup& b) { return a.channel < b.channel; });
  return setups;
}

std::string condition_text(const Profile& profile, const Condition& condition) {
  return fold_condition(
      condition, [&](const ConditionNode& node, std::size_t) { return comparison_text(profile, node.comparison); },
      [](const std::string& text) { return "not (" + text + ")"; },
      [](const ConditionNode& node, const std::string& left, const std::string& right) {
        return "(" + left + (node.op == Truth::And ? ") and (" : ") or (") + right + ")";
      });
}

std::string line_name(const Bench& bench, const Line& line) {
  return bench[line.supply].name + "." + line.terminal;
}

std::string_view line_role(const Line& line) {
  switch (line.trigger) {
    case LineTrigger::Trip:
      return "high when tripped";
    case LineTrigger::ConstantCurrent:
      return "high in constant current";
    case LineTrigger::SwitchOff:
      return "switches off";
    case LineTrigger::None:
      break;
  }
  return line.is_output ? "driven by rows" : "awaited";
}

}  // namespace rampart
