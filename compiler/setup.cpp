#include "compiler/setup.h"

#include <algorithm>

#include "compiler/abilities.h"

namespace rampart {
namespace {

FuseSetup fuse_setup(const Table& table, const RailSetup& rail, ChannelId member, const Fuse& fuse,
                     const Rational& share) {
  FuseSetup setup;
  setup.delay = fuse.delay.value;
  if (fuse.current) setup.current = fuse.current->value * share;
  for (const ChannelId other : rail.members) {
    if (other != member) setup.linked.push_back(other);
  }
  for (const RailId linked : fuse.linked) {
    const std::vector<ChannelId>& members = table.rails()[static_cast<std::size_t>(linked)].members;
    setup.linked.insert(setup.linked.end(), members.begin(), members.end());
  }
  std::sort(setup.linked.begin(), setup.linked.end());
  return setup;
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

std::vector<ChannelSetup> channel_setups(const Table& table) {
  std::vector<ChannelSetup> setups;
  for (const RailSetup& rail : table.rails()) {
    const Rail& declared = table.profile()[rail.rail];
    const Protection& protection = declared.protection;
    const Abilities abilities = abilities_of(table, rail.rail);
    for (const ChannelId member : rail.members) {
      const Rational share = abilities.share_of(table.bench()[member]);
      const Rational in_series = abilities.series ? share : Rational(1);
      const Rational in_parallel = abilities.parallel ? share : Rational(1);
      ChannelSetup setup;
      setup.channel = member;
      setup.rail = rail.rail;
      setup.remote_sense = declared.remote_sense;
      if (protection.overvoltage) setup.overvoltage = protection.overvoltage->value * in_series;
      if (protection.fuse) setup.fuse = fuse_setup(table, rail, member, *protection.fuse, in_parallel);
      if (protection.overpower) {
        setup.overpower = protection.overpower->power.value * share;
        setup.overpower_delay = protection.overpower->delay.value;
      }
      setups.push_back(std::move(setup));
    }
  }
  std::sort(setups.begin(), setups.end(),
            [](const ChannelSetup& a, const ChannelSetup& b) { return a.channel < b.channel; });
  return setups;
}

std::string condition_text(const Profile& profile, const Condition& condition) {
  std::vector<std::string> stack;
  const auto take = [&stack] {
    std::string text = std::move(stack.back());
    stack.pop_back();
    return text;
  };
  for (const ConditionNode& node : condition.nodes) {
    if (node.op == Truth::Compare) {
      stack.push_back(comparison_text(profile, node.comparison));
    } else if (node.op == Truth::Not) {
      stack.push_back("not (" + take() + ")");
    } else {
      const std::string right = take();
      stack.push_back("(" + take() + (node.op == Truth::And ? ") and (" : ") or (") + right + ")");
    }
  }
  return stack.empty() ? std::string() : take();
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
