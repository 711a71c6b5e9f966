#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "runtime/predict/answer.h"

// What an answer begins with: the verdict and what decides it, in words that the text and the report share.
namespace rampart {

// One of the margins that come closest to their limit.
struct TightMargin {
  MarginKind kind{};
  std::string what;   // "fuse of radio"
  std::string left;   // "20 ms of 20 ms delay left", rounded towards less; "4.6 W over 50 W"
  std::string share;  // of the limit, rounded towards less: "11 %"; empty of a limit that is 0
  double margin = 0;
  double limit = 0;
  const Margin* nominal = nullptr;  // when and why; with everything nominal, also where a corner has less
  std::string corner;               // what is not nominal, where a corner has less
};

// A sentence about a place in the source; without one its span is empty.
struct HeadlineLine {
  std::string text;
  Span place;
};

struct Headline {
  bool passes = false;
  bool setpoints_only = false;         // no run of a load was judged
  std::string reason;                  // "no trip, 4 rules hold, 7 expectations met"
  std::string incident;                // "under `shorted`": the run that is shown, where it is not the plain one
  std::vector<HeadlineLine> failures;  // each kind of error once
  std::vector<HeadlineLine> trips;     // of the run that is shown, as all below
  std::vector<TightMargin> tightest;   // three at most
  std::vector<HeadlineLine> reached;   // limits that may be reached for a time, and were, without a trip
  std::vector<std::string> not_judged;
  std::size_t errors = 0;
  std::size_t warnings = 0;
};

// What is known of a rule from all sides on which it was judged.
struct RuleVerdict {
  bool holds = true;
  bool exercised = false;
};

// By the place of the rule in the profile. A simulation must have tried it, where there is one: the setpoints of a run
// that ends with a trip also come to what the run never reaches. Without a simulation it is null.
[[nodiscard]] std::map<std::size_t, RuleVerdict> rule_verdicts(const std::vector<RuleResult>& setpoints,
                                                               const Simulation* simulation);

// How many margins a first screen shows.
inline constexpr std::size_t kTightest = 3;

// With `strict`, warnings count as errors.
[[nodiscard]] Headline headline_of(const Answer& answer, bool strict);

// "PASS", "PASS (setpoints only)", "FAIL".
[[nodiscard]] std::string verdict_word(const Headline& headline);
// The same with its reason: "PASS with 1 warning: no trip, 4 rules hold".
[[nodiscard]] std::string verdict_text(const Headline& headline);

}  // namespace rampart
