#pragma once

#include <doctest/doctest.h>

#include <optional>
#include <random>
#include <string>
#include <tuple>
#include <vector>

#include "tests/support/program_builder.h"

namespace rampart::test {

// A row without what only the compiler needs: time in ns, counts of the channel.
struct PlainRow {
  std::int64_t time = 0;
  std::string channel;
  std::int64_t voltage = 0;
  std::int64_t current = 0;
  bool output = false;
  friend bool operator==(const PlainRow&, const PlainRow&) = default;
};

inline std::vector<PlainRow> plain_rows(const Table& table) {
  std::vector<PlainRow> rows;
  RowCursor cursor = table.rows();
  while (const std::optional<TableItem> item = cursor.next()) {
    const auto* row = std::get_if<Row>(&*item);
    if (row == nullptr) continue;
    rows.push_back({row->time.count(), table.bench()[row->channel].name, row->voltage, row->current, row->output});
  }
  return rows;
}

// A table of a random program on two `hold` channels with 10 mV and 1 mA: steps, ramps, dwells and repeats in repeats.
// Both outputs are on from the start to the end.
class RandomTable {
 public:
  explicit RandomTable(std::uint32_t seed)
      : engine_(seed), bench_(make_bench({{.channels = {{.name = "ch1"}, {.name = "ch2"}}}})) {
    profile_ = make_profile(bench_);
    profile_.run = {limit(0, "1 A"), limit(1, "2 A"), on(0), on(1), dwell("20 ms")};
    for (Statement& next : statements(2)) profile_.run.push_back(std::move(next));
    profile_.run.push_back(dwell("20 ms"));
    FindingSink findings;
    timeline_ = build_timeline(profile_, profile_.run, TimelineStart::Off, findings);
    REQUIRE(timeline_);
    table_.emplace(profile_, bench_, *timeline_);
  }
  RandomTable(const RandomTable&) = delete;
  RandomTable& operator=(const RandomTable&) = delete;

  [[nodiscard]] const Table& table() const { return *table_; }
  [[nodiscard]] const Bench& bench() const { return bench_; }
  [[nodiscard]] Bench& bench() { return bench_; }

 private:
  std::uint32_t up_to(std::uint32_t last) { return static_cast<std::uint32_t>(engine_() % (last + 1)); }
  std::string volts() { return std::to_string(up_to(3000)) + "0 mV"; }
  std::string milliseconds(std::uint32_t least, std::uint32_t most) {
    return std::to_string(least + up_to(most - least)) + " ms";
  }

  Program statements(int depth) {
    Program program;
    const std::uint32_t count = 1 + up_to(3);
    for (std::uint32_t i = 0; i < count; ++i) {
      const std::uint32_t rail = up_to(1);
      switch (up_to(depth > 0 ? 3 : 2)) {
        case 0:
          program.push_back(step(rail, volts()));
          program.push_back(dwell(milliseconds(10, 500)));
          break;
        case 1: {
          const std::string to = volts();
          program.push_back(ramp(rail, to, milliseconds(10, 300)));
          break;
        }
        case 2:
          program.push_back(limit(rail, std::to_string(1 + up_to(2999)) + " mA"));
          program.push_back(dwell(milliseconds(10, 50)));
          break;
        default: {
          const std::uint32_t passes = 1 + up_to(4);
          program.push_back(repeat(passes, statements(depth - 1)));
        }
      }
    }
    return program;
  }

  std::mt19937 engine_;
  Bench bench_;
  Profile profile_;
  std::optional<Timeline> timeline_;
  std::optional<Table> table_;
};

}  // namespace rampart::test
