#include <algorithm>
#include <functional>

#include "compiler/checks/families.h"
#include "compiler/table/setup.h"
#include "lang/findings/limits.h"

// Protection settings against what the channels have. A protection that a channel lacks is never emulated.
namespace rampart::checks {
namespace {

Rational nearest_legal(const Rational& value, const Rational& low, const Rational& high, const Rational& step) {
  const Rational inside = std::clamp(value, low, high);
  if (step.sign() <= 0) return inside;
  const Rational whole = Rational::fraction(((inside - low) / step).rounded(), 1) * step + low;
  return whole > high ? whole - step : whole;
}

// One setting of one member of a rail.
struct MemberSetting {
  std::string_view what;
  RailId rail{};
  const Channel& member;
  Quantity whole;  // as the profile gives it for the rail
  Rational own;    // what the member is set to
  Span place;
};

void report_unsupported(const Context& context, const Channel& channel, std::string_view what, const Span& place,
                        std::string_view hint) {
  context.report(finding::ProtectionUnsupported, place, nullptr, channel.name, what)
      .note(finding::ChannelDescribedHere, channel.span)
      .hint(std::string(hint));
}

void check_range(const Context& context, const MemberSetting& setting, const Rational& low, const Rational& high,
                 const Rational& step, const Span& given) {
  const Rational nearest = nearest_legal(setting.own, low, high, step);
  if (nearest == setting.own) return;
  const Dimension unit = setting.whole.dimension;
  const std::string steps = step.sign() > 0 ? " in steps of " + to_text(Quantity{step, unit}) : std::string();
  // The rail's setting of which the member would get the nearest one.
  const Rational whole = setting.own.sign() != 0 ? setting.whole.value / setting.own * nearest : nearest;
  context
      .report(finding::ProtectionRange, setting.place, nullptr, setting.what, context.profile[setting.rail].name,
              Quantity{setting.own, unit}, setting.member.name, Quantity{low, unit}, Quantity{high, unit}, steps)
      .note(finding::RangeGivenHere, given)
      .hint("the nearest setting is " + to_text(Quantity{whole, unit}), to_text(Quantity{whole, unit}));
}

template <class Value>
void check_range(const Context& context, const MemberSetting& setting, const Placed<Range<Value>>& range) {
  check_range(context, setting, range.value.low.si, range.value.high.si, 0, range.span);
}

template <class Value>
void check_range(const Context& context, const MemberSetting& setting, const Placed<SteppedRange<Value>>& range) {
  check_range(context, setting, range.value.range.low.si, range.value.range.high.si, range.value.step.si, range.span);
}

// Calls check(setup, member, protection) for each channel behind each rail.
template <class Check>
void for_each_member(const Context& context, Check&& check) {
  for (std::size_t i = 0; i < context.profile.rails.size(); ++i) {
    const RailId rail{static_cast<std::uint32_t>(i)};
    for (const ChannelSetup& setup : member_setups(context.run, rail)) {
      check(setup, context.bench[setup.channel], context.profile.rails[i].protection);
    }
  }
}

// Where to write that a channel has a protection.
std::string declared_by(std::string_view keys) {
  return "if the supply has it, add " + std::string(keys) +
         " under `protection:` of this channel in the bench file; if not, use a channel that has it";
}

void check_fuse_of(const Context& context, const ChannelSetup& setup, const Channel& member, const Fuse& fuse) {
  const ProtectionAbilities& has = member.protection;
  if (!has.fuse_by) {
    report_unsupported(context, member, "electronic fuse", fuse.span, declared_by("`fuse_by` and `fuse_delay`"));
    return;
  }
  if (has.fuse_delay) {
    const Quantity delay{to_seconds(fuse.delay.value), dimension::kTime};
    check_range(context, {"the fuse delay", setup.rail, member, delay, delay.value, fuse.delay.span}, *has.fuse_delay);
  }
  if (*has.fuse_by == FuseBy::CurrentLimit && fuse.current) {
    report_unsupported(context, member, "fuse with a current of its own", fuse.current->span,
                       "leave out `at`: its fuse acts when the output is in constant current");
  }
  if (*has.fuse_by == FuseBy::OwnCurrent && !fuse.current) {
    report_unsupported(context, member, "fuse that acts in constant current", fuse.span,
                       "write at which current it acts: `fuse at 1 A after 20 ms`");
  }
  if (fuse.current && has.fuse_current) {
    check_range(context,
                {"the fuse current", setup.rail, member, fuse.current->value.quantity(), setup.fuse->current->si,
                 fuse.current->span},
                *has.fuse_current);
  }
}

void check_overpower_of(const Context& context, const ChannelSetup& setup, const Channel& member,
                        const Overpower& overpower) {
  const ProtectionAbilities& has = member.protection;
  if (!has.overpower) {
    report_unsupported(context, member, "overpower protection", overpower.span, declared_by("`overpower`"));
    return;
  }
  check_range(
      context,
      {"overpower", setup.rail, member, overpower.power.value.quantity(), setup.overpower->si, overpower.power.span},
      *has.overpower);
  const Quantity delay{to_seconds(overpower.delay.value), dimension::kTime};
  if (has.overpower_delay) {
    check_range(context, {"the overpower delay", setup.rail, member, delay, delay.value, overpower.delay.span},
                *has.overpower_delay);
  } else if (delay.value.sign() > 0) {
    report_unsupported(
        context, member, "delay for its overpower protection", overpower.delay.span,
        "if the supply has one, add `overpower_delay` under `protection:` of this channel in the bench file; "
        "if not, leave out `after`: it then acts at once, on an inrush too");
  }
}

// Calls visit(track, statement) for each `track` of a program.
void visit_tracks(const Program& program, const std::function<void(const Track&, const Statement&)>& visit) {
  for (const Statement& statement : program) {
    if (const auto* track = std::get_if<Track>(&statement.what)) {
      visit(*track, statement);
      visit_tracks(track->body, visit);
    } else if (const auto* repeat = std::get_if<Repeat>(&statement.what)) {
      visit_tracks(repeat->body, visit);
    } else if (const auto* together = std::get_if<Together>(&statement.what)) {
      for (const Program& branch : together->branches) visit_tracks(branch, visit);
    }
  }
}

void check_tracking(const Context& context, const Track& track, const Statement& statement) {
  for (const RailId rail : {track.follower, track.leader}) {
    const Channel& channel = *context.of(rail).members.front();
    const Supply& supply = context.bench[channel.supply];
    if (supply.tracking.value_or(true)) continue;
    context.report(finding::TrackingUnsupported, statement.span, &statement, supply.name)
        .note(finding::SupplyDescribedHere, supply.span)
        .hint("write the setpoints of both rails, or use a supply that tracks");
    return;
  }
}

std::string how_to_link(const Supply& from, const Supply& to) {
  return "`run` does not do this in software: link the supplies by a cable, and write it in the bench file, as in "
         "`links: {cable: {wired: [" +
         from.name + ", " + to.name + "], delay: 10 ms}}`; or use channels of one supply";
}

void check_interlock(const Context& context, const Line& line) {
  if (line.trigger != LineTrigger::SwitchOff) return;
  for (const RailId rail : line.rails) {
    for (const ChannelId channel : context.run.rails()[static_cast<std::size_t>(rail)].members) {
      if (context.bench.link_delay(line.supply, {&channel, 1})) continue;
      const Supply& from = context.bench[line.supply];
      const Supply& to = context.bench.supply_of(channel);
      context
          .report(finding::NoLinkOfLine, line.span, nullptr, line.name, context.bench[channel].name, from.name, to.name)
          .note(finding::SupplyDescribedHere, from.span)
          .hint(how_to_link(from, to));
      return;
    }
  }
}

}  // namespace

void check_overvoltage_setting(const Context& context) {
  std::optional<RailId> reported;
  for_each_member(context, [&](const ChannelSetup& setup, const Channel& member, const Protection& protection) {
    if (!protection.overvoltage || reported == setup.rail) return;
    const auto& threshold = *protection.overvoltage;
    if (!member.protection.overvoltage) {
      report_unsupported(context, member, "overvoltage protection", threshold.span, declared_by("`overvoltage`"));
      reported = setup.rail;
      return;
    }
    const Quantity whole{abs(threshold.value.si), dimension::kVoltage};
    check_range(context, {"overvoltage", setup.rail, member, whole, setup.overvoltage->si, threshold.span},
                *member.protection.overvoltage);
  });
}

void check_fuse_setting(const Context& context) {
  for_each_member(context, [&](const ChannelSetup& setup, const Channel& member, const Protection& protection) {
    if (protection.fuse) check_fuse_of(context, setup, member, *protection.fuse);
  });
}

void check_overpower_setting(const Context& context) {
  for_each_member(context, [&](const ChannelSetup& setup, const Channel& member, const Protection& protection) {
    if (protection.overpower) check_overpower_of(context, setup, member, *protection.overpower);
  });
}

void check_links(const Context& context) {
  std::optional<RailId> reported;
  for_each_member(context, [&](const ChannelSetup& setup, const Channel& member, const Protection& protection) {
    const auto check = [&](const std::vector<ChannelId>& others, const Span& place) {
      for (const ChannelId other : others) {
        if (reported == setup.rail || context.bench.link_delay({&setup.channel, 1}, {&other, 1})) continue;
        reported = setup.rail;
        const Supply& from = context.bench[member.supply];
        const Supply& to = context.bench.supply_of(other);
        context.report(finding::NoLink, place, nullptr, member.name, context.bench[other].name, from.name, to.name)
            .note(finding::SupplyDescribedHere, from.span)
            .hint(how_to_link(from, to));
      }
    };
    if (setup.fuse) check(setup.fuse->linked, protection.fuse->span);
    // Any trip of a member has to switch off the others.
    if (protection.overvoltage) check(setup.coupled, protection.overvoltage->span);
    if (protection.fuse) check(setup.coupled, protection.fuse->span);
    if (protection.overpower) check(setup.coupled, protection.overpower->power.span);
  });
  for (const Line& line : context.profile.lines) check_interlock(context, line);
}

void check_bench_features(const Context& context) {
  const auto visit = [&context](const Track& track, const Statement& statement) {
    check_tracking(context, track, statement);
  };
  visit_tracks(context.profile.run, visit);
  if (context.profile.safe) visit_tracks(*context.profile.safe, visit);
}

}  // namespace rampart::checks
