#include <algorithm>
#include <functional>

#include "compiler/checks/families.h"
#include "lang/findings/limits.h"

// Protection settings against what the channels have. A protection that a channel lacks is never emulated.
namespace rampart::checks {
namespace {

// What a member of a combination takes of the whole: in series by voltage ranges, in parallel by current ranges.
enum class Shared : std::uint8_t { Copied, InSeries, InParallel, Both };

Rational share_of(const Abilities& abilities, const Channel& member, Shared shared) {
  const bool divided = shared == Shared::Both || (shared == Shared::InSeries && abilities.series) ||
                       (shared == Shared::InParallel && abilities.parallel);
  return divided ? abilities.share_of(member) : Rational(1);
}

Rational nearest_legal(const Rational& value, const Rational& low, const Rational& high, const Rational& step) {
  const Rational inside = std::clamp(value, low, high);
  if (step.sign() <= 0) return inside;
  const Rational whole = Rational::fraction(((inside - low) / step).rounded(), 1) * step + low;
  return whole > high ? whole - step : whole;
}

struct Setting {
  std::string_view what;
  RailId rail{};
  Quantity value;
  Span place;
  Shared shared = Shared::Copied;
};

void report_unsupported(const Context& context, const Setting& setting, const Channel& channel, std::string_view hint) {
  context.report(finding::ProtectionUnsupported, setting.place, nullptr, channel.name, setting.what)
      .note(finding::ChannelDescribedHere, channel.span)
      .hint(std::string(hint));
}

// Tests one setting of each member against its range; the first that does not fit is reported.
void check_range(const Context& context, const Setting& setting, const Channel& member, const Rational& low,
                 const Rational& high, const Rational& step, const Span& given) {
  const Abilities& abilities = context.of(setting.rail);
  const Rational share = share_of(abilities, member, setting.shared);
  const Rational value = setting.value.value * share;
  const Rational nearest = nearest_legal(value, low, high, step);
  if (nearest == value) return;
  const Dimension unit = setting.value.dimension;
  const std::string steps = step.sign() > 0 ? " in steps of " + to_text(Quantity{step, unit}) : std::string();
  context
      .report(finding::ProtectionRange, setting.place, nullptr, setting.what, context.profile[setting.rail].name,
              Quantity{value, unit}, member.name, Quantity{low, unit}, Quantity{high, unit}, steps)
      .note(finding::RangeGivenHere, given)
      .hint("the nearest setting is " + to_text(Quantity{nearest / share, unit}));
}

template <class Check>
void for_each_rail(const Context& context, Check&& check) {
  for (std::size_t i = 0; i < context.profile.rails.size(); ++i) {
    check(RailId{static_cast<std::uint32_t>(i)}, context.profile.rails[i].protection, context.abilities[i]);
  }
}

constexpr std::string_view kNeverEmulated =
    "remove it, or put the rail on a channel that has it: nothing else takes its place";

void check_fuse_of(const Context& context, RailId rail, const Fuse& fuse, const Channel& member) {
  const ProtectionAbilities& has = member.protection;
  const Setting delay{"the fuse delay", rail, {to_seconds(fuse.delay.value), dimension::kTime}, fuse.delay.span};
  if (!has.fuse_by) {
    report_unsupported(context, {"electronic fuse", rail, {}, fuse.span}, member, kNeverEmulated);
    return;
  }
  if (has.fuse_delay) {
    const auto& delays = has.fuse_delay->value;
    check_range(context, delay, member, delays.range.low.si, delays.range.high.si, delays.step.si,
                has.fuse_delay->span);
  }
  if (*has.fuse_by == FuseBy::CurrentLimit && fuse.current) {
    report_unsupported(context, {"fuse with a current of its own", rail, {}, fuse.current->span}, member,
                       "leave out `at`: its fuse acts when the output is in constant current");
  }
  if (*has.fuse_by == FuseBy::OwnCurrent && !fuse.current) {
    report_unsupported(context, {"fuse that acts in constant current", rail, {}, fuse.span}, member,
                       "say at which current it acts: `fuse at 1 A after 20 ms`");
  }
  if (fuse.current && has.fuse_current) {
    const auto& currents = has.fuse_current->value;
    check_range(context,
                {"the fuse current", rail, fuse.current->value.quantity(), fuse.current->span, Shared::InParallel},
                member, currents.range.low.si, currents.range.high.si, currents.step.si, has.fuse_current->span);
  }
}

void check_overpower_of(const Context& context, RailId rail, const Overpower& overpower, const Channel& member) {
  const ProtectionAbilities& has = member.protection;
  if (!has.overpower) {
    report_unsupported(context, {"overpower protection", rail, {}, overpower.span}, member, kNeverEmulated);
    return;
  }
  check_range(context, {"overpower", rail, overpower.power.value.quantity(), overpower.power.span, Shared::Both},
              member, has.overpower->value.low.si, has.overpower->value.high.si, 0, has.overpower->span);
  if (has.overpower_delay) {
    const auto& delays = has.overpower_delay->value;
    check_range(
        context,
        {"the overpower delay", rail, {to_seconds(overpower.delay.value), dimension::kTime}, overpower.delay.span},
        member, delays.range.low.si, delays.range.high.si, delays.step.si, has.overpower_delay->span);
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

}  // namespace

void check_overvoltage_setting(const Context& context) {
  for_each_rail(context, [&](RailId rail, const Protection& protection, const Abilities& abilities) {
    if (!protection.overvoltage) return;
    const auto& threshold = *protection.overvoltage;
    const Setting setting{
        "overvoltage", rail, {abs(threshold.value.si), dimension::kVoltage}, threshold.span, Shared::InSeries};
    for (const Channel* member : abilities.members) {
      const auto& range = member->protection.overvoltage;
      if (!range) {
        report_unsupported(context, {"overvoltage protection", rail, {}, threshold.span}, *member, kNeverEmulated);
        return;
      }
      check_range(context, setting, *member, range->value.low.si, range->value.high.si, 0, range->span);
    }
  });
}

void check_fuse_setting(const Context& context) {
  for_each_rail(context, [&](RailId rail, const Protection& protection, const Abilities& abilities) {
    if (!protection.fuse) return;
    for (const Channel* member : abilities.members) check_fuse_of(context, rail, *protection.fuse, *member);
  });
}

void check_overpower_setting(const Context& context) {
  for_each_rail(context, [&](RailId rail, const Protection& protection, const Abilities& abilities) {
    if (!protection.overpower) return;
    for (const Channel* member : abilities.members) check_overpower_of(context, rail, *protection.overpower, *member);
  });
}

void check_bench_features(const Context& context) {
  for (std::size_t i = 0; i < context.profile.rails.size(); ++i) {
    const Rail& rail = context.profile.rails[i];
    for (const Channel* member : context.abilities[i].members) {
      if (!rail.remote_sense || member->remote_sense) continue;
      context.report(finding::SenseUnsupported, rail.channel_span, nullptr, member->name)
          .note(finding::ChannelDescribedHere, member->span)
          .hint("leave out `sense remote`, and account for the drop of the leads");
      break;
    }
  }
  const auto visit = [&context](const Track& track, const Statement& statement) {
    check_tracking(context, track, statement);
  };
  visit_tracks(context.profile.run, visit);
  if (context.profile.safe) visit_tracks(*context.profile.safe, visit);
}

}  // namespace rampart::checks
