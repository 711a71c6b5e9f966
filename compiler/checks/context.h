#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "compiler/checks/power_course.h"
#include "compiler/table/abilities.h"
#include "compiler/table/highest_demand.h"
#include "compiler/table/table.h"
#include "lang/findings/finding.h"

namespace rampart::checks {

// What a rail does in the run, and in the orderly stop as far as that knows it.
struct Usage {
  bool driven = false;
  bool switched_on = false;
  std::optional<Rational> highest;  // setpoint while on, V, by magnitude; the sign of `reversed` taken away
  Rational highest_limit;           // A, while on
  Rational highest_power;           // setpoint · limit, W, while on
  Span highest_place;

  void add(const Usage& other);
};

struct Context {
  // What the checks come to: findings in the sink, and in `acceptance_used` those acceptances of the profile that
  // silence one.
  Context(const Table& run_table, const Table* safe_table, FindingSink& sink, std::vector<bool>& acceptance_used);

  const Profile& profile;
  const Bench& bench;
  const Table& run;
  const Table* safe;
  std::vector<Abilities> abilities;           // in the order of the rails
  std::vector<Usage> usage;                   // by RailId
  std::vector<bool> used_in_run;              // by RailId: switched on there, so that the orderly stop may find it on
  std::vector<HighestDemand> demands_of_run;  // by RailId
  std::vector<PowerPeaks> power;              // of each of tables()

  // Reports a finding with what led to it: the point of a waveform, and the calls.
  template <class... Arguments>
  FindingSink::Addition report(const FindingKind<Arguments...>& kind, const Span& span, const Statement* statement,
                               const std::type_identity_t<Arguments>&... arguments) const {
    FindingSink::Addition addition = findings_.report(kind, span, arguments...);
    if (statement != nullptr) note_way(addition, span, *statement);
    return addition;
  }
  // The same for practice, which the profile may accept for the rail.
  template <class... Arguments>
  FindingSink::Addition practice(const FindingKind<Arguments...>& kind, std::optional<RailId> rail, const Span& span,
                                 const Statement* statement,
                                 const std::type_identity_t<Arguments>&... arguments) const {
    FindingSink::Addition addition = report(kind, span, statement, arguments...);
    if (const Acceptance* acceptance = find_acceptance(kind.wording.name, rail)) {
      addition.accept(acceptance->span, acceptance->reason);
    }
    return addition;
  }

  // Acceptances that silenced nothing.
  void report_unused_acceptances() const;
  // The run's table, and the stop's where there is one.
  [[nodiscard]] std::vector<const Table*> tables() const;
  [[nodiscard]] const Abilities& of(RailId rail) const { return abilities[static_cast<std::size_t>(rail)]; }

 private:
  // What led to a finding at `span`: the point of a waveform, and the calls.
  void note_way(FindingSink::Addition& addition, const Span& span, const Statement& statement) const;
  // Notes that it is of use.
  [[nodiscard]] const Acceptance* find_acceptance(std::string_view name, std::optional<RailId> rail) const;

  FindingSink& findings_;
  std::vector<bool>& acceptance_used_;
};

// A finding of practice that only a simulation can tell, which then answers for its acceptances too.
[[nodiscard]] bool is_judged_with_load(std::string_view finding);

}  // namespace rampart::checks
