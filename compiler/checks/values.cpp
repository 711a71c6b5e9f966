#include <algorithm>
#include <optional>
#include <utility>

#include "compiler/checks/checks.h"
#include "compiler/checks/families.h"
#include "compiler/timeline/timeline.h"
#include "lang/text/overloaded.h"

// Checks of a profile that cannot be laid out in time. What its statements set by themselves is played one after the
// other at one instant, and goes through the same checks as a run.
namespace rampart {
namespace {

using Programs = std::vector<const Program*>;

class KnownValues {
 public:
  explicit KnownValues(const std::vector<RailId>& unplaced) : unplaced_(unplaced) {}

  void add(const Program& program) {
    for (const Statement& statement : program) {
      std::visit(
          Overloaded{[&](const Jump& jump) { add(statement, jump.motions); },
                     [&](const Ramp& ramp) { add(statement, ramp.motions); },
                     [&](const Repeat& repeat) { add(repeat.body); }, [&](const Track& track) { add(track.body); },
                     [&](const Together& together) {
                       for (const Program& branch : together.branches) add(branch);
                     },
                     [](const auto&) {}},
          statement.what);
    }
  }

  [[nodiscard]] Program take() { return std::move(values_); }

 private:
  // What a change by some amount leads to is known to the timeline alone.
  void add(const Statement& statement, const std::vector<Motion>& motions) {
    Ramp known;
    for (const Motion& motion : motions) {
      const bool is_placed = std::find(unplaced_.begin(), unplaced_.end(), motion.rail) == unplaced_.end();
      if (is_placed && (motion.from || !motion.relative)) known.motions.push_back(motion);
    }
    if (!known.motions.empty()) values_.push_back({statement.span, statement.call, statement.point, std::move(known)});
  }

  const std::vector<RailId>& unplaced_;
  Program values_;
};

using Check = void (*)(const checks::Context&);

// A rail whose channel is not known asks nothing of it.
Profile without_unplaced(const Profile& profile, const std::vector<RailId>& unplaced) {
  Profile placed = profile;
  for (const RailId rail : unplaced) {
    placed.rails[static_cast<std::size_t>(rail)].protection = {};
  }
  return placed;
}

void run(const std::vector<Check>& checks, const Profile& profile, const Program& program, const Bench& bench,
         FindingSink& findings) {
  if (bench.channels.empty()) return;
  FindingSink known;
  const std::optional<Timeline> timeline = build_timeline(profile, program, TimelineStart::Off, known);
  if (!timeline) return;
  const Table table(profile, bench, *timeline);
  std::vector<bool> acceptance_used(profile.acceptances.size(), false);
  const rampart::checks::Context context(table, nullptr, findings, acceptance_used);
  for (const Check check : checks) check(context);
}

}  // namespace

void check_values(const Profile& profile, const std::vector<const Program*>& programs,
                  const std::vector<RailId>& unplaced, const Bench& bench, FindingSink& findings) {
  KnownValues values(unplaced);
  for (const Program* program : programs) values.add(*program);
  run({checks::check_voltage_range, checks::check_current_range, checks::check_ceiling}, profile, values.take(), bench,
      findings);
}

void check_settings(const Profile& profile, const std::vector<RailId>& unplaced, const Bench& bench,
                    FindingSink& findings) {
  run({checks::check_overvoltage_setting, checks::check_fuse_setting, checks::check_overpower_setting,
       checks::check_bench_features},
      without_unplaced(profile, unplaced), {}, bench, findings);
}

}  // namespace rampart
