#pragma once

#include <cstdint>
#include <cstdio>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "compiler/bench/bench.h"
#include "runtime/bench_run/play_table.h"
#include "runtime/link/link.h"

// What is known of a run before anything is opened: which channel is where, what is set up, what the table asks for.
namespace rampart::bench_run {

// Why a table cannot be played, and what to do.
struct Refusal {
  std::string_view name;  // of the finding that explains it; empty: nothing has to be explained
  std::string what;
  std::string hint;
};

struct PlanChannel {
  std::string name;  // "left.ch1"
  std::string rail;  // that it feeds
  bool is_reversed = false;
  std::size_t supply = 0;  // in Plan::supplies
  std::string subject;     // what messages call it
  TableChannel setup;
  Rational voltage_step;                          // V
  Rational current_step;                          // A
  Rational least_current;                         // A; the lowest current limit that can be set
  Rational least_voltage;                         // V
  std::vector<std::size_t> switched_off_by_trip;  // channels that go off with it, whatever trips it
  std::vector<std::size_t> switched_off_by_fuse;  // channels that a link of the bench switches off when its fuse acts
};

struct PlanLine {
  std::string name;  // "left.line1"
  std::size_t supply = 0;
  std::string subject;
  std::string role;
};

struct PlanSupply {
  const link::SupplyLink* link = nullptr;
  std::vector<std::size_t> channels;  // in Plan::channels
  // The shortest time between two instants at which this supply is told something.
  std::optional<Nanoseconds> shortest_gap;
  std::int64_t instants = 0;
};

// One thing that a person has to set, in words.
struct HandSetting {
  std::string text;
};

struct Plan {
  TableHead head;
  std::vector<PlanChannel> channels;  // those of the table, in the order of the bench
  std::vector<PlanLine> lines;
  std::vector<PlanSupply> supplies;  // those of the table, in the order of the link file
  std::vector<HandSetting> by_hand;
  std::vector<TableItem> safe;  // the safe sequence, without its segment; empty: there is none
  bool has_safe = false;
  bool asks_operator = false;
  std::int64_t segments = 0;  // of the run
  std::int64_t rows = 0;
  Nanoseconds duration{0};  // of the run without its waits
  Nanoseconds safe_duration{0};

  [[nodiscard]] std::optional<std::size_t> find_channel(const std::string& name) const;
  [[nodiscard]] std::optional<std::size_t> find_line(const std::string& name) const;
  // The channels of a supply that the table plays, as its link file has them.
  [[nodiscard]] std::vector<link::LinkName> link_names(std::size_t supply) const;
};

// Longer safe sequences are refused: they are kept in memory, so that nothing has to be read after a trip.
inline constexpr std::size_t kMostSafeRows = 100'000;

// Reads the table once and fits it to bench and link. `refusals` says all that stands against playing it. `bench` and
// `link` have to live as long as the plan.
[[nodiscard]] Plan make_plan(std::FILE* table, const Bench& bench, const link::Link& link,
                             std::vector<Refusal>& refusals);

}  // namespace rampart::bench_run
