#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "runtime/bench_run/plan.h"
#include "runtime/link/instrument.h"

// What is set at a supply before the first row, and how it is read back.
namespace rampart::bench_run {

// A number is right within half a count.
struct NumberWanted {
  Rational value;
  Rational step;
  std::string_view unit;
};

// One setting: its message, and the question whose answer must agree with it.
struct SetupStep {
  std::string what;  // "overvoltage protection of `left.ch1`"
  std::string message;
  std::optional<link::MessageKind> question;
  std::optional<NumberWanted> number;  // of the answer; else `truth`
  bool truth = true;
  bool is_fixed = true;                                 // rows do not change it
  std::array<std::string_view, 2> truths{"off", "on"};  // how the answers 0 and 1 read
};

// What a supply answers to the question of a step.
struct ReadBack {
  bool agrees = false;
  std::string got;
  std::string wanted;
};

// None: the supply gave no answer. The step has to have a question.
[[nodiscard]] std::optional<ReadBack> read_back(link::Instrument& instrument, const std::string& subject,
                                                const SetupStep& step);
[[nodiscard]] bool agrees(double answer, const NumberWanted& wanted);
// "reads back as 5 V, not 3.8 V".
[[nodiscard]] std::string words_of(const ReadBack& answer);

// In the order in which they are sent, outputs being off: 0 V, least limit, protection, sense. `mistake`: a value that
// a format of the link file cannot write; empty if there is none.
[[nodiscard]] std::vector<SetupStep> setup_steps(const PlanChannel& channel, const link::SupplyLink& link,
                                                 std::string& mistake);

struct SettingByHand {
  link::ByHand what;
  std::string text;
};

// What no message of the link sets although the table has it.
[[nodiscard]] std::vector<SettingByHand> settings_by_hand(const PlanChannel& channel, const link::SupplyLink& link);

}  // namespace rampart::bench_run
