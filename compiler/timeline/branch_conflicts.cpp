#include "compiler/timeline/branch_conflicts.h"

#include <map>
#include <string>
#include <utility>
#include <vector>

#include "lang/findings/timeline.h"
#include "lang/text/overloaded.h"

namespace rampart {
namespace {

// What can be driven: a quantity of a rail, or a line.
enum class Driven : std::uint8_t { Voltage, Limit, Output, Line };
using Resource = std::pair<Driven, std::uint32_t>;
// The statement that drives each resource first.
using DrivenBy = std::map<Resource, const Statement*>;

struct ActiveTrack {
  RailId follower{};
  RailId leader{};
  const Statement* statement = nullptr;
};

class BranchChecker {
 public:
  BranchChecker(const Profile& profile, FindingSink& findings) : profile_(profile), findings_(findings) {}

  DrivenBy check(const Program& program) {
    DrivenBy all;
    for (const Statement& statement : program) {
      DrivenBy part = check(statement);
      all.merge(part);
    }
    return all;
  }

 private:
  DrivenBy check(const Statement& statement) {
    return std::visit(Overloaded{
                          [&](const Switch& action) { return switched(statement, action); },
                          [&](const Jump& action) { return driven(statement, action.motions); },
                          [&](const Ramp& action) { return driven(statement, action.motions); },
                          [&](const SetLine& action) { return line(statement, action.line); },
                          [&](const Pulse& action) { return line(statement, action.line); },
                          [&](const Repeat& loop) { return check(loop.body); },
                          [&](const Together& group) { return together(group); },
                          [&](const Track& track) { return tracked(statement, track); },
                          [&](const Await&) { return await(statement); },
                          [&](const auto&) { return DrivenBy{}; },
                      },
                      statement.what);
  }

  static DrivenBy switched(const Statement& statement, const Switch& action) {
    DrivenBy result;
    for (const RailId rail : action.rails) result.emplace(Resource{Driven::Output, index(rail)}, &statement);
    return result;
  }

  static DrivenBy line(const Statement& statement, LineId line) {
    return {{Resource{Driven::Line, static_cast<std::uint32_t>(line)}, &statement}};
  }

  DrivenBy driven(const Statement& statement, const std::vector<Motion>& motions) {
    DrivenBy result;
    for (const Motion& motion : motions) {
      if (motion.drive == Drive::Limit) {
        result.emplace(Resource{Driven::Limit, index(motion.rail)}, &statement);
        continue;
      }
      report_if_tracking(statement, motion.rail);
      add_voltage(statement, motion.rail, result);
    }
    return result;
  }

  void add_voltage(const Statement& statement, RailId rail, DrivenBy& result) {
    if (!result.emplace(Resource{Driven::Voltage, index(rail)}, &statement).second) return;
    for (const ActiveTrack& track : tracks_) {
      if (track.leader == rail) add_voltage(statement, track.follower, result);
    }
  }

  DrivenBy together(const Together& group) {
    DrivenBy all;
    ++together_depth_;
    for (const Program& branch : group.branches) {
      for (const auto& [resource, statement] : check(branch)) {
        const auto [other, added] = all.emplace(resource, statement);
        if (!added && other->second != statement) report_conflict(resource, *other->second, *statement);
      }
    }
    --together_depth_;
    return all;
  }

  DrivenBy tracked(const Statement& statement, const Track& track) {
    report_if_tracking(statement, track.follower);
    if (follows(track.leader, track.follower)) {
      findings_.report(finding::TracksItself, statement.span, profile_[track.follower].name)
          .hint("let one rail lead and the other follow");
      return {};
    }
    tracks_.push_back({track.follower, track.leader, &statement});
    DrivenBy inside = check(track.body);
    tracks_.pop_back();
    return inside;
  }

  DrivenBy await(const Statement& statement) {
    if (together_depth_ > 0) {
      auto report = findings_.report(finding::AwaitInTogether, statement.span);
      add_calls(report, statement);
      report.hint("end the `together` before the `await`");
    }
    return {};
  }

  // True if `rail` is `leader` or follows it, directly or through others.
  [[nodiscard]] bool follows(RailId rail, RailId leader) const {
    if (rail == leader) return true;
    for (const ActiveTrack& track : tracks_) {
      if (track.follower == rail && follows(track.leader, leader)) return true;
    }
    return false;
  }

  void report_if_tracking(const Statement& statement, RailId rail) {
    for (const ActiveTrack& track : tracks_) {
      if (track.follower != rail) continue;
      auto report = findings_.report(finding::DrivenWhileTracking, statement.span, profile_[rail].name,
                                     profile_[track.leader].name);
      report.note(finding::TrackingBegins, track.statement->span);
      add_calls(report, statement);
      report.hint("drive it before or after the `track` block");
      return;
    }
  }

  void report_conflict(const Resource& resource, const Statement& first, const Statement& second) {
    auto report = findings_.report(finding::BranchConflict, second.span, describe(resource));
    report.note(finding::OtherBranchHere, first.span);
    add_calls(report, first);
    add_calls(report, second);
    report.hint("drive it in one branch only, or one after the other outside of `together`");
  }

  void add_calls(FindingSink::Addition& report, const Statement& statement) const {
    for (CallId call = statement.call; call != kNoCall; call = profile_.calls[call].caller) {
      report.note(finding::CalledFromHere, profile_.calls[call].span);
    }
  }

  [[nodiscard]] std::string describe(const Resource& resource) const {
    const auto& [driven, number] = resource;
    if (driven == Driven::Line) return "line `" + profile_.lines[number].name + "`";
    const std::string rail = "`" + profile_.rails[number].name + "`";
    if (driven == Driven::Voltage) return "the voltage of " + rail;
    if (driven == Driven::Limit) return "the current limit of " + rail;
    return "the output of " + rail;
  }

  static std::uint32_t index(RailId rail) { return static_cast<std::uint32_t>(rail); }

  const Profile& profile_;
  FindingSink& findings_;
  std::vector<ActiveTrack> tracks_;
  int together_depth_ = 0;
};

}  // namespace

void check_branches(const Profile& profile, const Program& program, FindingSink& findings) {
  BranchChecker(profile, findings).check(program);
}

}  // namespace rampart
