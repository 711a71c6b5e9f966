#include <algorithm>

#include "compiler/checks/families.h"
#include "compiler/profile/accept_words.h"
#include "lang/findings/practice.h"

// Is every rail protected, and can the protection do its work?
namespace rampart::checks {
namespace {

// Where a rail is declared, for what concerns it as a whole.
template <class Check>
void for_each_used_rail(const Context& context, Check&& check) {
  for (std::size_t i = 0; i < context.profile.rails.size(); ++i) {
    if (context.usage[i].switched_on) {
      check(RailId{static_cast<std::uint32_t>(i)}, context.profile.rails[i], context.usage[i]);
    }
  }
}

// Where the threshold of one member is, and where its voltage gets, both with what their accuracies allow.
struct TripDistance {
  Rational threshold;
  Rational acts_at;
  Rational reaches;
  Rational needed;  // the rail's threshold that would keep them apart

  [[nodiscard]] bool too_close() const { return reaches >= acts_at; }
};

TripDistance trip_distance(const Abilities& abilities, std::size_t member, const Rational& highest,
                           const Rational& threshold) {
  const Channel& channel = *abilities.members[member];
  const Rational& share = abilities.shares.of_voltage(member);
  const Rational set = abilities.shares.highest_voltage(member, highest);
  const auto& voltage_error = channel.limits.voltage_accuracy;
  const Accuracy<Volts> error = channel.protection.overvoltage_accuracy.value_or(Accuracy<Volts>{});
  TripDistance distance;
  distance.threshold = threshold * share;
  distance.acts_at = distance.threshold - error.at(Volts{distance.threshold}).si;
  distance.reaches = set + (voltage_error ? voltage_error->at(Volts{set}).si : Rational(0));
  // A higher threshold has a larger error: only a part of each volt that it is raised by moves them apart.
  const Rational gained = Rational(1) - error.fraction;
  distance.needed = (distance.threshold + (distance.reaches - distance.acts_at) / gained) / share;
  return distance;
}

// Whether every member has the protection.
template <class Member>
bool all_have(const Abilities& abilities, Member protection) {
  return std::all_of(abilities.members.begin(), abilities.members.end(),
                     [&](const Channel* member) { return (member->protection.*protection).has_value(); });
}

bool overpower_acts(const Protection& protection, const Usage& usage) {
  return protection.overpower && protection.overpower->power.value.si < usage.highest_power;
}

}  // namespace

void check_protection_present(const Context& context) {
  for_each_used_rail(context, [&](RailId id, const Rail& rail, const Usage& usage) {
    const Abilities& abilities = context.of(id);
    const auto accept = [&rail](const auto& kind) { return accept_words(kind.wording.name, rail.name); };
    const auto none = [&](const auto& kind) {
      return "`" + abilities.name + "` has none: use another channel, or say why none is needed: " + accept(kind);
    };
    if (!rail.protection.overvoltage) {
      const std::string highest = to_text(Volts{usage.highest.value_or(Rational(0))});
      context.practice(finding::NoOvervoltage, id, rail.span, nullptr, rail.name)
          .hint(all_have(abilities, &ProtectionAbilities::overvoltage)
                    ? "add `overvoltage` to its `protect` block, somewhat above its highest setpoint of " + highest
                    : none(finding::NoOvervoltage));
    }
    if (!rail.protection.fuse) {
      context.practice(finding::NoFuse, id, rail.span, nullptr, rail.name)
          .hint(all_have(abilities, &ProtectionAbilities::fuse_delay)
                    ? "add `fuse after` to its `protect` block, with a time longer than the inrush"
                    : none(finding::NoFuse));
    }
    if (!rail.protection.overpower) {
      const std::string where = usage.highest_power.sign() > 0 ? "below " + to_text(Watts{usage.highest_power}) +
                                                                     ", its highest setpoint times its limit"
                                                               : "to its `protect` block";
      context.practice(finding::NoOverpower, id, rail.span, nullptr, rail.name)
          .hint(all_have(abilities, &ProtectionAbilities::overpower)
                    ? "add `overpower` " + where + ", or say why none is needed: " + accept(finding::NoOverpower)
                    : none(finding::NoOverpower));
    }
  });
}

void check_trip_distance(const Context& context) {
  for_each_used_rail(context, [&](RailId id, const Rail& rail, const Usage& usage) {
    if (!rail.protection.overvoltage || !usage.highest) return;
    const Abilities& abilities = context.of(id);
    const Rational threshold = abs(rail.protection.overvoltage->value.si);
    // A channel without it, or a setpoint above the ceiling, has its own finding.
    const bool has_it = std::all_of(abilities.members.begin(), abilities.members.end(),
                                    [](const Channel* member) { return member->protection.overvoltage.has_value(); });
    const auto& ceiling = rail.protection.ceiling;
    if (!has_it || (ceiling && abs(ceiling->value.si) < *usage.highest)) return;
    // Of a combination, the member that would need the highest.
    std::optional<TripDistance> worst;
    std::size_t member = 0;
    for (std::size_t i = 0; i < abilities.members.size(); ++i) {
      const TripDistance distance = trip_distance(abilities, i, *usage.highest, threshold);
      if (!distance.too_close() || (worst && worst->needed >= distance.needed)) continue;
      worst = distance;
      member = i;
    }
    if (!worst) return;
    // The next millivolt above: at the same voltage nothing keeps them apart.
    const Rational to_millivolt = Rational::fraction((worst->needed * Rational(1000)).floor() + 1, 1000);
    const std::string hint =
        "set it to " + to_text(Volts{to_millivolt}) + " or more: then the two stay apart with both errors";
    const Span& place = rail.protection.overvoltage->span;
    if (abilities.series) {
      context
          .practice(finding::TripTooCloseShare, id, place, nullptr, rail.name, Volts{threshold},
                    Volts{worst->threshold}, abilities.members[member]->name, Volts{worst->acts_at},
                    Volts{worst->reaches})
          .note(finding::HighestSetpointHere, usage.highest_place, Volts{*usage.highest})
          .hint(hint);
    } else {
      context
          .practice(finding::TripTooClose, id, place, nullptr, rail.name, Volts{threshold}, Volts{worst->acts_at},
                    Volts{worst->reaches})
          .note(finding::HighestSetpointHere, usage.highest_place, Volts{*usage.highest})
          .hint(hint);
    }
  });
}

void check_fuse_acts(const Context& context) {
  for_each_used_rail(context, [&](RailId id, const Rail& rail, const Usage& usage) {
    if (!rail.protection.fuse) return;
    const Fuse& fuse = *rail.protection.fuse;
    const bool alone = !overpower_acts(rail.protection, usage);
    if (fuse.current && fuse.current->value.si > usage.highest_limit) {
      const std::string hint = "set it below the current limit of " + to_text(Amps{usage.highest_limit});
      const std::string why = "it acts at " + to_text(fuse.current->value) + ", but the current limit is " +
                              to_text(Amps{usage.highest_limit});
      if (alone) {
        context.report(finding::FuseNeverActsAlone, fuse.current->span, nullptr, rail.name, why).hint(hint);
      } else {
        context.practice(finding::FuseNeverActs, id, fuse.current->span, nullptr, rail.name, why).hint(hint);
      }
      return;
    }
    // How long a run with waits lasts is not known beforehand.
    if (context.run.timeline().has_segments()) return;
    const Nanoseconds duration = context.run.timeline().duration();
    if (fuse.delay.value < duration) return;
    const std::string why = "its delay is " + to_text(fuse.delay.value) + ", but the run lasts " + to_text(duration);
    const std::string hint = "set a delay somewhat longer than the inrush, which usually takes milliseconds";
    if (alone) {
      context.practice(finding::FuseNeverActsAlone, id, fuse.delay.span, nullptr, rail.name, why).hint(hint);
    } else {
      context.practice(finding::FuseNeverActs, id, fuse.delay.span, nullptr, rail.name, why).hint(hint);
    }
  });
}

void check_overpower_acts(const Context& context) {
  for_each_used_rail(context, [&](RailId id, const Rail& rail, const Usage& usage) {
    // A rail that stays at 0 V has no overload to catch.
    if (!rail.protection.overpower || usage.highest_power.sign() == 0) return;
    if (overpower_acts(rail.protection, usage)) return;
    // A channel without it, or a power that it cannot be set to, has its own finding.
    const auto& members = context.of(id).members;
    const Watts power = rail.protection.overpower->power.value;
    const bool settable = std::all_of(members.begin(), members.end(), [&power](const Channel* member) {
      return member->protection.overpower && power <= member->protection.overpower->value.high;
    });
    if (!settable && members.size() == 1) return;
    context
        .practice(finding::OverpowerNeverActs, id, rail.protection.overpower->power.span, nullptr, rail.name,
                  rail.protection.overpower->power.value, Watts{usage.highest_power})
        .hint("set it below " + to_text(Watts{usage.highest_power}) +
              "; if the load may draw that, leave it out and write " +
              accept_words(finding::NoOverpower.wording.name, rail.name));
  });
}

}  // namespace rampart::checks
