#include "runtime/predict/run_findings.h"

#include <algorithm>
#include <cmath>
#include <set>
#include <string>

#include "compiler/profile/accept_words.h"
#include "lang/findings/practice.h"
#include "lang/findings/predicted.h"
#include "runtime/answer/expectations.h"
#include "runtime/answer/wait_words.h"
#include "runtime/predict/expectation_findings.h"
#include "runtime/predict/margin_findings.h"
#include "runtime/predict/reading_findings.h"
#include "runtime/predict/shortfall_findings.h"

namespace rampart {
namespace {

// A larger share of the voltage lost on the leads is more than most devices are specified for. Common practice, no
// source.
constexpr double kLeadShare = 0.03;

// In constant current for less than this in all, s, and than this share of the fuse's delay, a rail only took the top
// of its stairs. Common practice, no source.
constexpr double kBlipSeconds = 1e-3;
constexpr double kBlipShare = 0.1;

// With remote sense the supply makes up for the leads.
double lead_drop(const Load& load, const Rail& rail, double current) {
  const RailLoad* found = load.find_rail(rail.name);
  return found == nullptr || rail.remote_sense ? 0 : found->wire.nominal * current;
}

bool is_blip(const Rail& rail, const RailFigures& figures) {
  const std::optional<Fuse>& fuse = rail.protection.fuse;
  return figures.cc_time_s < kBlipSeconds &&
         (!fuse || figures.cc_time_s < kBlipShare * 1e-9 * static_cast<double>(fuse->delay.value.count()));
}

class RunReporter {
 public:
  RunReporter(const Profile& profile, const Load& load, const Simulation& simulation, FindingSink& findings,
              const std::vector<FuseDelays>& delays, const std::vector<OverpowerRoom>& rooms,
              const std::vector<double>& lasting, const Stairs* stairs)
      : profile_(profile),
        load_(load),
        simulation_(simulation),
        findings_(findings),
        delays_(delays),
        rooms_(rooms),
        lasting_(lasting),
        stairs_(stairs) {}

  void report() {
    for (std::size_t i = 0; i < profile_.rails.size(); ++i) {
      const RailId rail{static_cast<std::uint32_t>(i)};
      if (simulation_.rails[i].trip) report_trip(rail, *simulation_.rails[i].trip);
      report_constant_current(rail, simulation_.rails[i]);
      if (!lasting_.empty()) report_leads(rail, lasting_[i]);
    }
    if (!simulation_.cut_short) report_shortfalls(profile_, load_, simulation_, findings_);
    report_readings(profile_, simulation_, findings_);
    report_margins(profile_, simulation_, findings_, delays_);
    for (const Awaited& wait : simulation_.awaited) {
      if (wait.timed_out) report_wait(wait);
    }
    std::set<RailId> chattering;
    for (const ModeChatter& chatter : simulation_.chatter) {
      if (chattering.insert(chatter.rail).second) report_chatter(chatter);
    }
    if (!simulation_.cut_short) report_expectations(profile_, simulation_, std::nullopt, findings_, stairs_);
  }

 private:
  void report_trip(RailId rail, const Trip& trip) {
    if (trip_expected(profile_, rail, trip.cause)) return;
    // A linked rail follows the one that tripped by itself, which has its own finding.
    if (trip.cause == TripCause::Linked) return;
    auto finding = findings_.report(finding::TripPredicted, trip.statement, profile_[rail].name,
                                    trip_cause_words(trip.cause), to_text(trip.time_s, "s"), in_pass(trip.passes));
    const Protection& protection = profile_[rail].protection;
    switch (trip.cause) {
      case TripCause::Fuse:
        if (protection.fuse->current) {
          finding.note(finding::OwnCurrentSetHere, protection.fuse->span, protection.fuse->delay.value,
                       protection.fuse->current->value);
          finding.hint("ramp more slowly, raise the current of the fuse, or set its delay longer than the inrush" +
                       advice_for(rail));
          break;
        }
        finding.note(finding::FuseSetHere, protection.fuse->span, protection.fuse->delay.value);
        finding.hint("ramp more slowly, raise the current limit, or set the delay of the fuse longer than the inrush" +
                     advice_for(rail));
        break;
      case TripCause::Overvoltage:
        finding.note(finding::ThresholdSetHere, protection.overvoltage->span, to_text(protection.overvoltage->value));
        finding.hint("lower the setpoint or raise the overvoltage threshold");
        break;
      case TripCause::Overpower:
        finding.note(finding::ThresholdSetHere, protection.overpower->span, to_text(protection.overpower->power.value));
        finding.hint(overpower_hint(rail));
        break;
      default:
        finding.hint("add a dwell for the output to cool, or draw less");
    }
  }

  [[nodiscard]] std::string advice_for(RailId rail) const {
    const FuseDelays* delays = find_delays(delays_, rail);
    return delays != nullptr ? ": " + delay_advice(*delays) : std::string();
  }

  [[nodiscard]] std::string overpower_hint(RailId rail) const {
    const auto found =
        std::find_if(rooms_.begin(), rooms_.end(), [rail](const OverpowerRoom& room) { return room.rail == rail; });
    return found == rooms_.end() ? "ramp more slowly, or raise the overpower threshold"
                                 : overpower_advice(*found, profile_[rail].name);
  }

  void report_constant_current(RailId rail, const RailFigures& figures) {
    // A setpoint that the rail does not come to says more.
    if (figures.cc_time_s <= 0 || figures.trip || figures.shortfalls.not_settled) return;
    if (is_blip(profile_[rail], figures)) return;
    for (const Event& event : simulation_.events) {
      if (event.kind != EventKind::CcEnter || event.rail != rail) continue;
      const Peak& longest = figures.longest_cc_s;
      auto finding =
          findings_.report(finding::CurrentLimited, event.statement, profile_[rail].name,
                           to_text(figures.cc_time_s, "s"), to_text(longest.value, "s"), to_text(event.time_s, "s"));
      if (longest.statement != event.statement) {
        finding.note(finding::LongestLimitedHere, longest.statement, to_text(longest.time_s, "s"),
                     in_pass(longest.passes));
      }
      finding.hint(has_converter(rail) ? "if this is not intended, raise the current limit: a converter draws more "
                                         "current at a lower voltage"
                                       : "if this is not intended, ramp more slowly or raise the current limit" +
                                             stairs_of(rail, event.statement));
      return;
    }
  }

  // ": each stair of …", where the stairs of a ramp are what reached the limit.
  [[nodiscard]] std::string stairs_of(RailId rail, const Span& statement) const {
    if (stairs_ == nullptr) return {};
    for (const Margin& margin : simulation_.margins) {
      if (margin.kind != MarginKind::CurrentLimit || margin.rail != rail) continue;
      const std::string words = stairs_->words(rail, statement, margin.limit);
      return words.empty() ? words : ": " + words;
    }
    return {};
  }

  [[nodiscard]] bool has_converter(RailId rail) const {
    const RailLoad* load = load_.find_rail(profile_[rail].name);
    return load != nullptr && std::any_of(load->elements.begin(), load->elements.end(), [](const LoadElement& element) {
             return std::holds_alternative<ConstantPowerElement>(element.what);
           });
  }

  void report_chatter(const ModeChatter& chatter) {
    const ChatterRow& row = row_of(chatter.kind);
    findings_
        .report(*row.finding, chatter.statement, profile_[chatter.rail].name, chatter.cycles,
                to_text(chatter.time_s, "s"))
        .hint(std::string(row.hint));
  }

  void report_leads(RailId id, double current) {
    const Rail& rail = profile_[id];
    const RailFigures& figures = simulation_.rails[static_cast<std::size_t>(id)];
    const double drop = lead_drop(load_, rail, current);
    const bool lost = drop > kLeadShare * figures.voltage_V.value;
    const Acceptance* acceptance = nullptr;
    for (const Acceptance& one : profile_.acceptances) {
      if (one.finding == finding::LeadDrop.wording.name && one.rail == id) acceptance = &one;
    }
    if (lost) {
      FindingSink::Addition dropped = findings_.report(finding::LeadDrop, rail.span, rail.name, to_text(drop, "V"),
                                                       to_text(figures.voltage_V.value, "V"), to_text(current, "A"));
      dropped.hint("use remote sense or thicker leads, or say why the voltage is enough: " +
                   accept_words(finding::LeadDrop.wording.name, rail.name));
      if (acceptance != nullptr) dropped.accept(acceptance->span, acceptance->reason);
    } else if (acceptance != nullptr) {
      findings_.report(finding::AcceptUnused, acceptance->span, acceptance->finding).hint("remove it", "");
    }
  }

  void report_wait(const Awaited& wait) {
    const Nanoseconds longest{std::llround(wait.waited_s * 1e9)};
    const std::string nearest = nearest_words(profile_, wait);
    findings_
        .report(finding::WaitTimedOut, wait.statement, awaited_words(profile_, findings_.texts(), wait), longest,
                in_pass(wait.passes), nearest.empty() ? "" : nearest + "; ",
                simulation_.safe_played ? "`safe` is played" : "the run ends there")
        .hint("allow more time, or await a level that the rail reaches");
  }

  const Profile& profile_;
  const Load& load_;
  const Simulation& simulation_;
  FindingSink& findings_;
  const std::vector<FuseDelays>& delays_;
  const std::vector<OverpowerRoom>& rooms_;
  const std::vector<double>& lasting_;
  const Stairs* stairs_;
};

}  // namespace

void report_cut_short(const CutShort& cut, FindingSink& findings) {
  if (cut.unlike_passes > 0) {
    findings.report(finding::UnlikePasses, cut.statement, to_text(cut.time_s, "s"), cut.unlike_passes)
        .hint(
            "make the length of a pass a whole multiple of the time grid, as the finding `off-grid` says, and of the "
            "period of the load's pulses");
    return;
  }
  findings.report(finding::CutShort, cut.statement, to_text(cut.time_s, "s"), cut.steps)
      .hint("simulate a shorter part of the run, or make its passes identical");
}

void report_predictions(const Profile& profile, const Load& load, const Simulation& simulation, FindingSink& findings,
                        const std::vector<FuseDelays>& delays, const std::vector<OverpowerRoom>& rooms,
                        const std::vector<double>& lasting, const Stairs* stairs) {
  RunReporter(profile, load, simulation, findings, delays, rooms, lasting, stairs).report();
}

bool may_lose_to_leads(const Profile& profile, const Load& load, const Simulation& simulation) {
  for (std::size_t i = 0; i < profile.rails.size(); ++i) {
    const RailFigures& figures = simulation.rails[i];
    const double drop = lead_drop(load, profile.rails[i], figures.current_A.value);
    if (drop > kLeadShare * figures.voltage_V.value) return true;
  }
  return false;
}

}  // namespace rampart
