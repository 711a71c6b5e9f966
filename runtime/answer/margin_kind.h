#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "compiler/profile/profile.h"
#include "lang/findings/finding.h"

// The kinds of margin. A new kind is an enumerator, its row in margin_kind.cpp, and the place that computes it.
namespace rampart {

enum class MarginKind : std::uint8_t {
  Fuse,
  Overvoltage,
  OverpowerDelay,  // of an overpower protection that waits: how long it still would have
  OverpowerLevel,  // of the same: the power that starts its delay
  Overpower,       // of one that acts at once
  Overtemperature,
  CurrentLimit,
  PowerEnvelope,
  Settling,
  TotalPower,
};

// Whose limit a margin is measured against.
enum class MarginOwner : std::uint8_t {
  Rail,
  Output,   // a channel, or what its rail calls a combination of channels
  Channel,  // one of possibly several of a rail
  Supply,
};

// What a finding about one margin says, in words with units.
struct MarginReport {
  Span statement;
  std::string kind;
  std::string rail;
  std::string owner;    // the output, channel or supply; empty where it is the rail
  std::string reached;  // of the limit
  std::string limit;
  std::string distance;      // to the limit, on whichever side
  std::int64_t percent = 0;  // of the limit that is left
  std::string at;
  std::string in_pass;
  std::string advice;  // ": what to set instead", or nothing
};

// When a margin is judged beside others.
enum class MarginJudged : std::uint8_t {
  Always,
  WhileHeld,   // not where it is exceeded: how long that may last has a margin of its own
  WhereAsked,  // where a rule or expectation asks for it: what comes of it otherwise is for the fuse
};

struct MarginRow {
  MarginKind kind{};
  std::string_view name;   // in JSON
  std::string_view words;  // for people: "overvoltage protection"
  std::string_view unit;
  bool is_time = false;  // the limit is one of time, used up by the instant where the margin is least
  MarginOwner owner{};
  std::optional<TripCause> trips_by{};  // the protection that acts where nothing is left
  MarginJudged judged = MarginJudged::Always;
  // What is left of the limit, and what is beyond it.
  std::string_view left = "{} of {} left";
  std::string_view beyond = "{} over {}";
  // Where the profile sets the limit; empty where it does not.
  Span (*threshold)(const Protection& protection) = nullptr;
  // The finding that says that this protection can never act, and the places where it says so.
  const Wording* never_acts = nullptr;
  std::vector<Span> (*never_acts_at)(const Protection& protection) = nullptr;
  // Why the margin is what it is; `holds` is false where the limit was exceeded.
  std::string (*reason)(const std::string& reached, const std::string& limit, bool holds) = nullptr;
  // Reports that the limit is exceeded. None where a trip, a missed setpoint or the margin of a delay tells of that.
  void (*report_exceeded)(const MarginReport& report, FindingSink& findings) = nullptr;
  // Reports that too little is left. None where that is no matter by itself.
  void (*report_thin)(const MarginReport& report, FindingSink& findings) = nullptr;
};

[[nodiscard]] const MarginRow& row_of(MarginKind kind);

}  // namespace rampart
