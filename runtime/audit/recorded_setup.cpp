#include "runtime/audit/recorded_setup.h"

#include <algorithm>
#include <set>

#include "lang/findings/limits.h"
#include "lang/findings/tables.h"
#include "lang/values/quantity.h"

namespace rampart::audit {
namespace {

// Numbers of a set-up are doubles: what is off by less than this share of a step or of a limit is not off.
const Rational kSlack = Rational::fraction(1, 1'000'000'000);

class SetupCheck {
 public:
  SetupCheck(const RecordedChannel& recorded, const Channel& channel, const Timing& timing, const Span& place,
             FindingSink& findings)
      : recorded_(recorded),
        channel_(channel),
        timing_(timing),
        has_(channel.protection),
        place_(place),
        findings_(findings) {}

  void run() {
    if (recorded_.remote_sense && !channel_.remote_sense)
      findings_.report(finding::SenseUnsupported, place_, channel_.name);
    if (recorded_.overvoltage) {
      if (!has_.overvoltage) lacks("overvoltage protection");
      if (has_.overvoltage)
        range("the overvoltage", *recorded_.overvoltage, has_.overvoltage->value, {}, dimension::kVoltage);
    }
    if (recorded_.fuse) check_fuse(*recorded_.fuse);
    if (recorded_.overpower) check_overpower(*recorded_.overpower);
    check_steps();
  }

 private:
  void lacks(std::string_view what) { findings_.report(finding::ProtectionUnsupported, place_, channel_.name, what); }

  template <class Value>
  void range(std::string_view what, const Rational& value, const Range<Value>& range, const Rational& step,
             const Dimension& unit) {
    const Rational& low = range.low.si;
    const Rational& high = range.high.si;
    const Rational slack = kSlack * std::max(abs(low), abs(high));
    bool fits = value >= low - slack && value <= high + slack;
    if (fits && step.sign() > 0) {
      const Rational steps = (value - low) / step;
      fits = steps.overflowed() || abs(steps - Rational::fraction(steps.rounded(), 1)) <= kSlack;
    }
    if (fits) return;
    const std::string in_steps = step.sign() > 0 ? " in steps of " + to_text(Quantity{step, unit}) : std::string();
    findings_.report(finding::ProtectionRange, place_, what, recorded_.rail, Quantity{value, unit}, channel_.name,
                     Quantity{low, unit}, Quantity{high, unit}, in_steps);
  }

  void check_fuse(const RecordedFuse& fuse) {
    if (!has_.fuse_by) return lacks("electronic fuse");
    if (fuse.delay && has_.fuse_delay) {
      range("the fuse delay", *fuse.delay, has_.fuse_delay->value.range, has_.fuse_delay->value.step.si,
            dimension::kTime);
    }
    const bool own_current = *has_.fuse_by == FuseBy::OwnCurrent;
    if (fuse.current && !own_current) lacks("fuse with a current of its own");
    if (!fuse.current && own_current) lacks("fuse that acts in constant current");
    if (fuse.current && own_current && has_.fuse_current) {
      range("the fuse current", *fuse.current, has_.fuse_current->value.range, has_.fuse_current->value.step.si,
            dimension::kCurrent);
    }
  }

  void check_overpower(const RecordedOverpower& overpower) {
    if (!has_.overpower) return lacks("overpower protection");
    if (overpower.power) range("overpower", *overpower.power, has_.overpower->value, {}, dimension::kPower);
    if (overpower.delay && has_.overpower_delay) {
      range("the overpower delay", *overpower.delay, has_.overpower_delay->value.range,
            has_.overpower_delay->value.step.si, dimension::kTime);
    } else if (overpower.delay && overpower.delay->sign() > 0) {
      lacks("delay for its overpower protection");
    }
  }

  void check_steps() {
    const std::string_view way = timing_.interpolation == Interpolation::Hold ? "hold" : "linear";
    if (!recorded_.interpolation.empty() && recorded_.interpolation != way)
      findings_.report(finding::SetupOtherWay, place_, channel_.name, recorded_.interpolation, way);
    same_step("a minimum step", recorded_.minimum_step, {to_seconds(timing_.minimum_step), dimension::kTime});
    same_step("a time grid", recorded_.time_step, {to_seconds(timing_.resolution), dimension::kTime});
    same_step("a voltage resolution", recorded_.voltage_step, channel_.limits.voltage_resolution.quantity());
    same_step("a current resolution", recorded_.current_step, channel_.limits.current_resolution.quantity());
  }

  void same_step(std::string_view what, const std::optional<Rational>& recorded, const Quantity& step) {
    if (!recorded || abs(*recorded - step.value) <= kSlack * step.value) return;
    findings_.report(finding::SetupOtherStep, place_, channel_.name, what, Quantity{*recorded, step.dimension}, step);
  }

  const RecordedChannel& recorded_;
  const Channel& channel_;
  const Timing& timing_;
  const ProtectionAbilities& has_;
  Span place_;
  FindingSink& findings_;
};

bool has_line(const Bench& bench, const std::string& name) {
  return std::any_of(bench.supplies.begin(), bench.supplies.end(), [&](const Supply& supply) {
    return std::any_of(supply.lines.begin(), supply.lines.end(),
                       [&](const std::string& line) { return supply.name + "." + line == name; });
  });
}

}  // namespace

void check_setup(const Record& record, const Bench& bench, const Span& place, FindingSink& findings) {
  std::set<std::string_view> names;
  for (const RecordedChannel& recorded : record.channels) {
    if (!names.insert(recorded.channel).second) findings.report(finding::SetupTwice, place, recorded.channel);
    const std::optional<ChannelId> id = bench.find_channel(recorded.channel);
    if (!id) {
      findings.report(finding::TableChannel, place, recorded.channel);
      continue;
    }
    const bool has_rail = std::any_of(record.rails.begin(), record.rails.end(), [&](const RecordedRail& rail) {
      return rail.rail == recorded.rail &&
             std::find(rail.channels.begin(), rail.channels.end(), recorded.channel) != rail.channels.end();
    });
    // A set-up that was written by hand may leave out all rails: then there is nothing to hold them to.
    if (!record.rails.empty() && !has_rail) findings.report(finding::SetupRail, place, recorded.channel, recorded.rail);
    SetupCheck(recorded, bench[*id], bench.supply_of(*id).timing, place, findings).run();
    std::vector<std::string> others = recorded.coupled;
    if (recorded.fuse) {
      others.insert(others.end(), recorded.fuse->switches_off.begin(), recorded.fuse->switches_off.end());
    }
    for (const std::string& other : others) {
      const std::optional<ChannelId> switched_off = bench.find_channel(other);
      if (!switched_off) {
        findings.report(finding::TableChannel, place, other);
      } else if (!bench.link_delay({&*id, 1}, {&*switched_off, 1})) {
        findings.report(finding::NoLink, place, recorded.channel, other, bench.supply_of(*id).name,
                        bench.supply_of(*switched_off).name);
      }
    }
  }
  for (const std::string& line : record.lines) {
    if (!names.insert(line).second) findings.report(finding::SetupTwice, place, line);
    if (!has_line(bench, line)) findings.report(finding::TableChannel, place, line);
  }
}

}  // namespace rampart::audit
