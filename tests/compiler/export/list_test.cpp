#include "compiler/export/list.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <sstream>

#include "compiler/export/list_fold.h"
#include "tests/support/random_table.h"
#include "tests/support/scpi_reader.h"
#include "tests/support/string_sink.h"

using namespace rampart;
using namespace rampart::test;

namespace {

void give_memory(Bench& bench, std::int64_t points, std::int64_t repeats) {
  for (Supply& supply : bench.supplies) supply.table = TableMemory{points, repeats, supply.channels, {}};
}

struct Planned {
  Profile profile;
  std::optional<Timeline> timeline;
  std::optional<Table> table;
  FindingSink findings;
  std::optional<std::vector<ChannelList>> lists;

  Planned(const Bench& bench, Program run, const ListOptions& options = {}) {
    profile = make_profile(bench);
    profile.run = std::move(run);
    timeline = build_timeline(profile, profile.run, TimelineStart::Off, findings);
    REQUIRE(timeline);
    table.emplace(profile, bench, *timeline);
    lists = plan_lists(*table, options, findings);
  }
  [[nodiscard]] std::string text() const {
    StringSink sink;
    write_list(*table, *lists, SupplyId{0}, sink);
    return sink.text();
  }
  // "name" of each finding.
  [[nodiscard]] std::vector<std::string> found() const {
    std::vector<std::string> names;
    for (const Finding& finding : findings.findings()) names.emplace_back(finding.name);
    return names;
  }
};

std::int64_t counts(double value, double per_unit) {
  return std::llround(value * per_unit);
}

// What a supply plays, as rows of a table of 10 mV and 1 mA.
std::vector<PlainRow> rows_of(const std::string& text, std::size_t channels) {
  ScpiSupply supply(channels);
  const bool understood = supply.read(text);
  CAPTURE(supply.mistake());
  REQUIRE(understood);
  std::vector<PlainRow> rows;
  for (std::size_t c = 0; c < channels; ++c) {
    const std::string name = "s1.ch" + std::to_string(c + 1);
    const ScpiSupply::Channel& channel = supply.channel(c);
    for (std::size_t i = 0; i < supply.played(c).size(); ++i) {
      const ScpiSupply::Played& at = supply.played(c)[i];
      const bool is_last = i + 1 == supply.played(c).size();
      rows.push_back({counts(at.time, 1e9), name, counts(is_last ? channel.voltage : at.voltage, 1e2),
                      counts(is_last ? channel.current : at.current, 1e3), is_last ? channel.output : at.output});
    }
  }
  // A list may cut what one row holds.
  const auto goes_on = [](const PlainRow& a, const PlainRow& b) {
    return a.channel == b.channel && a.voltage == b.voltage && a.current == b.current && a.output == b.output;
  };
  for (std::size_t i = 1; i + 1 < rows.size();) {
    const bool is_last = rows[i + 1].channel != rows[i].channel;
    if (!is_last && goes_on(rows[i - 1], rows[i])) {
      rows.erase(rows.begin() + static_cast<std::ptrdiff_t>(i));
    } else {
      ++i;
    }
  }
  std::stable_sort(rows.begin(), rows.end(), [](const PlainRow& a, const PlainRow& b) { return a.time < b.time; });
  return rows;
}

const Program kPulses = {limit(0, "1 A"), on(0),
                         repeat(100, {step(0, "5 V"), dwell("50 ms"), step(0, "1 V"), dwell("50 ms")}), off(0)};

}  // namespace

TEST_CASE("a supply that reads the list plays the table") {
  for (std::uint32_t seed = 1; seed <= 200; ++seed) {
    CAPTURE(seed);
    RandomTable random(seed);
    give_memory(random.bench(), 100'000, 1000);
    FindingSink findings;
    const auto lists = plan_lists(random.table(), {}, findings);
    REQUIRE(lists);
    CHECK(findings.findings().empty());
    StringSink sink;
    write_list(random.table(), *lists, SupplyId{0}, sink);
    CHECK(rows_of(sink.text(), 2) == plain_rows(random.table()));
  }
}

TEST_CASE("what repeats from start to end is folded into the count") {
  Bench bench = make_bench({{}});
  give_memory(bench, 2, 100);
  const Planned pulses(bench, kPulses);
  REQUIRE(pulses.lists);
  CHECK(pulses.lists->front().points.size() == 2);
  CHECK(pulses.lists->front().passes == 100);
  CHECK(pulses.text().find("SOURce1:LIST:COUNt 100") != std::string::npos);
  CHECK(rows_of(pulses.text(), 1) == plain_rows(*pulses.table));
}

// A pass ends as it begins, at 0 V: what is held from one to the next has to be cut for the passes to be alike.
TEST_CASE("passes that hold the same at their seam are folded too") {
  Bench bench = make_bench({{}});
  give_memory(bench, 11, 50);
  const Planned cycles(
      bench, {limit(0, "1 A"), on(0),
              repeat(50, {ramp(0, "50 mV", "50 ms"), dwell("1 s"), ramp(0, "0 V", "50 ms"), dwell("100 ms")}), off(0)});
  REQUIRE(cycles.lists);
  CHECK(cycles.lists->front().points.size() == 11);
  CHECK(cycles.lists->front().passes == 50);
  CHECK(rows_of(cycles.text(), 1) == plain_rows(*cycles.table));
}

namespace {

// The shortest list by trying all lengths.
std::optional<ListFold::Result> tried(const std::vector<ListPoint>& points, std::int64_t memory, std::int64_t passes,
                                      bool runs_straight) {
  const auto count = static_cast<std::int64_t>(points.size());
  for (std::int64_t length = 1; length <= std::min(memory, count); ++length) {
    if (count % length != 0 || count / length > passes) continue;
    const std::vector<ListPoint> part(points.begin(), points.begin() + length);
    const bool is_level = part.front().voltage == part.back().voltage && part.front().current == part.back().current;
    if (length < count && runs_straight && !is_level) continue;
    bool repeats = true;
    for (std::size_t i = 0; i < points.size(); ++i) repeats = repeats && points[i] == part[i % part.size()];
    if (repeats) return ListFold::Result{part, count / length};
  }
  return std::nullopt;
}

}  // namespace

TEST_CASE("the shortest list is the one that trying all lengths finds, also where passes are left out") {
  std::mt19937 engine(1);
  const auto up_to = [&engine](std::uint32_t last) { return static_cast<std::int64_t>(engine() % (last + 1)); };
  int found = 0;
  int left_out = 0;
  for (int i = 0; i < 20'000; ++i) {
    CAPTURE(i);
    const std::int64_t memory = 1 + up_to(12);
    const std::int64_t passes = 1 + up_to(8);
    const bool runs_straight = up_to(1) == 0;
    ListFold fold(memory, runs_straight);
    std::vector<ListPoint> points;
    const auto add = [&](const ListPoint& point) {
      points.push_back(point);
      fold.add(point);
    };
    for (std::int64_t parts = 1 + up_to(2); parts > 0; --parts) {
      std::vector<ListPoint> group(static_cast<std::size_t>(1 + up_to(5)));
      for (ListPoint& point : group) point = {up_to(1), 0, Nanoseconds{10}};
      for (std::int64_t times = 1 + up_to(2); times > 0; --times) {
        for (const ListPoint& point : group) add(point);
      }
      const std::int64_t times = up_to(6);
      const bool is_added = fold.repeat(static_cast<std::int64_t>(group.size()), times);
      for (std::int64_t k = 0; k < times; ++k) {
        for (const ListPoint& point : group) is_added ? points.push_back(point) : add(point);
      }
      left_out += is_added && times > 0 ? 1 : 0;
    }
    const std::optional<ListFold::Result> one = fold.result(passes);
    const std::optional<ListFold::Result> other = tried(points, memory, passes, runs_straight);
    CHECK(fold.count() == static_cast<std::int64_t>(points.size()));
    REQUIRE(one.has_value() == other.has_value());
    if (!one) continue;
    CHECK(one->points == other->points);
    CHECK(one->passes == other->passes);
    ++found;
  }
  CHECK(found > 2'000);
  CHECK(left_out > 2'000);
}

// A channel that changes in each pass, and one that stands still: 2 points a pass, and 1.
TEST_CASE("passes that go on with the same points are counted, not gone through") {
  Bench bench = make_bench({{.channels = {{.name = "ch1"}, {.name = "ch2"}}}});
  give_memory(bench, 100, 1000);
  const Planned pulses(bench,
                       {limit(0, "1 A"), limit(1, "1 A"), on(0), on(1),
                        repeat(100'000'000'000, {step(0, "2 V"), dwell("20 ms"), step(0, "1 V"), dwell("20 ms")})});
  REQUIRE(pulses.found() == std::vector<std::string>{"table-memory"});
  CHECK(pulses.findings.findings().front().message.find(" 200000000000 points") != std::string::npos);
}

TEST_CASE("memory is exceeded by the least possible amount") {
  Bench bench = make_bench({{}});
  give_memory(bench, 1, 100);
  CHECK(Planned(bench, kPulses).found() == std::vector<std::string>{"table-memory"});
  give_memory(bench, 2, 99);
  CHECK(Planned(bench, kPulses).found() == std::vector<std::string>{"table-memory"});
  give_memory(bench, 4, 50);
  CHECK(Planned(bench, kPulses).lists->front().passes == 50);
}

// The expected stairs are worked by hand: from 0 V in steps of 10 mV, one held until the next would be more than the
// error above it.
TEST_CASE("stairs are left out when memory is short, as few as the error allows") {
  Bench bench = make_bench({{}});
  const Program up = {limit(0, "1 A"), on(0), ramp(0, "100 mV", "100 ms"), dwell("1 s"), off(0)};
  give_memory(bench, 11, 1);
  const Planned whole(bench, up);
  CHECK(whole.found().empty());
  CHECK(whole.lists->front().points.size() == 11);
  give_memory(bench, 10, 1);
  const Planned by_default(bench, up);
  CHECK(by_default.found() == std::vector<std::string>{"table-memory"});
  CHECK(by_default.findings.findings().front().severity == Severity::Note);
  CHECK(by_default.lists->front().points.size() == 6);
  give_memory(bench, 5, 1);
  CHECK_FALSE(Planned(bench, up).lists);
  const Planned coarse(bench, up, {Volts{number("20 mV")}});
  REQUIRE(coarse.lists);
  const std::vector<ListPoint> expected{{0, 1000, time("30 ms")},
                                        {3, 1000, time("30 ms")},
                                        {6, 1000, time("30 ms")},
                                        {9, 1000, time("10 ms")},
                                        {10, 1000, time("1 s")}};
  CHECK(coarse.lists->front().points == expected);
}

TEST_CASE("the hint names an error of ramps that fits") {
  Bench bench = make_bench({{}});
  const Program up = {limit(0, "1 A"), on(0), ramp(0, "1 V", "1 s"), dwell("1 s"), off(0)};
  give_memory(bench, 5, 1);
  const Planned short_of(bench, up);
  REQUIRE(short_of.findings.findings().size() == 1);
  CHECK(short_of.findings.findings().front().hint.find("--ramp-error \"240 mV\"") != std::string::npos);
  CHECK_FALSE(Planned(bench, up, {Volts{number("230 mV")}}).lists);
  CHECK(Planned(bench, up, {Volts{number("240 mV")}}).lists);
}

TEST_CASE("what a list cannot do is an error") {
  Bench bench = make_bench({{}});
  const std::vector<std::string> cannot{"channel-cannot-play"};
  CHECK(Planned(bench, kPulses).found() == cannot);
  give_memory(bench, 1000, 1);
  CHECK(Planned(bench, {limit(0, "1 A"), dwell("1 s"), on(0), dwell("1 s"), off(0)}).found() == cannot);
  CHECK(Planned(bench, {limit(0, "1 A"), on(0), dwell("1 s"), off(0), dwell("1 s")}).found() == cannot);
  CHECK(Planned(bench, {limit(0, "1 A"), on(0), dwell("1 s")}).found().empty());
  bench.supplies[0].table->channels.clear();
  CHECK(Planned(bench, kPulses).found() == cannot);
}

TEST_CASE("an output that stays on goes from the end of the list to its last level and nowhere else") {
  Bench bench = make_bench({{}});
  give_memory(bench, 100, 1);
  const auto after_list = [&](const char* last) {
    const Planned held(bench, {limit(0, "1 A"), on(0), dwell("1 s"), step(0, "5 V"), dwell("1 s"), step(0, last)});
    REQUIRE(held.lists);
    ScpiSupply supply(1);
    REQUIRE(supply.read(held.text()));
    CHECK(supply.channel(0).output);
    return supply.channel(0).after_list;
  };
  CHECK(after_list("5 V") == std::vector<double>{5});
  CHECK(after_list("4 V") == std::vector<double>{5, 4});
}

// A triangle of two ramps has three points; the last one is there to run to, for the shortest time there is.
TEST_CASE("a supply that runs straight gets the point that its last ramp runs to") {
  Bench bench = make_bench({{.interpolation = Interpolation::Linear}});
  give_memory(bench, 100, 100);
  const Program triangle = {ramp(0, "24 V", "1 s"), ramp(0, "0 V", "1 s")};
  const std::vector<ListPoint> once{{0, 1000, time("1 s")}, {2400, 1000, time("1 s")}, {0, 1000, time("10 ms")}};
  Program run = {limit(0, "1 A"), on(0)};
  run.insert(run.end(), triangle.begin(), triangle.end());
  run.push_back(off(0));
  const Planned one(bench, run);
  REQUIRE(one.lists);
  CHECK(one.lists->front().points == once);
  CHECK(one.lists->front().passes == 1);
  // Folded, the last pass would have nothing to run down to.
  const Planned three(bench, {limit(0, "1 A"), on(0), repeat(3, triangle), off(0)});
  REQUIRE(three.lists);
  CHECK(three.lists->front().passes == 1);
  CHECK(three.lists->front().points.size() == 7);
  // Nor has one that ends at rest elsewhere: between passes it would jump, and the table runs.
  const Planned ends_high(bench,
                          {limit(0, "1 A"), on(0), repeat(2, triangle), ramp(0, "24 V", "1 s"), dwell("1 s"), off(0)});
  REQUIRE(ends_high.lists);
  CHECK(ends_high.lists->front().passes == 1);
  CHECK(ends_high.lists->front().points.size() == 6);
  // A pass that ends at rest where it began has.
  const Planned rests(bench, {limit(0, "1 A"), on(0),
                              repeat(3, {ramp(0, "24 V", "1 s"), ramp(0, "0 V", "1 s"), dwell("1 s")}), off(0)});
  REQUIRE(rests.lists);
  CHECK(rests.lists->front().passes == 3);
  CHECK(rests.lists->front().points ==
        std::vector<ListPoint>{{0, 1000, time("1 s")}, {2400, 1000, time("1 s")}, {0, 1000, time("1 s")}});
}

TEST_CASE("messages are bounded, but for a list") {
  Bench bench = make_bench({{.channels = {{.name = "ch1"}, {.name = "ch2"}, {.name = "ch3"}, {.name = "ch4"}}}});
  give_memory(bench, 1000, 1);
  Program run;
  for (std::uint32_t i = 0; i < 4; ++i) {
    run.push_back(limit(i, "1 A"));
    run.push_back(on(i));
  }
  for (std::uint32_t i = 0; i < 4; ++i) run.push_back(ramp(i, "3 V", "1 s"));
  std::istringstream lines(Planned(bench, run).text());
  std::size_t bounded = 0;
  for (std::string line; std::getline(lines, line);) {
    if (line.find(":LIST:") != std::string::npos) continue;
    CHECK(line.size() + 1 <= kMessageBytes);
    ++bounded;
  }
  CHECK(bounded > 4);
}

TEST_CASE("the reader of the tests refuses what is not of the standard") {
  for (const char* text : {"OUTPut1:STATe ON", "OUTPut1:STATe MAYBE\n", "OUTPutt1:STATe ON\n", "OUTPut3:STATe ON\n",
                           "SOURce1:VOLTage 1,2\n", "SOURce1:VOLTage 0x10\n", "SOURce1:LIST:VOLTage 1,,2\n", "*TRG\n",
                           "SOURce1:LIST:COUNt 0\n", "OUTPut1:STATe ON;SOURce1:VOLTage 1\n"}) {
    CAPTURE(text);
    CHECK_FALSE(ScpiSupply(2).read(text));
  }
  ScpiSupply supply(1);
  CHECK_FALSE(
      supply.read("SOUR:LIST:VOLT 1,2;:SOUR:LIST:CURR 1,2,3;:SOUR:LIST:DWEL 1\nSOUR:VOLT:MODE LIST\n"
                  "SOUR:CURR:MODE LIST\nTRIG:SOUR BUS\nINIT\n*TRG\n"));
  CHECK(supply.mistake() == "-226 lists not same length");
}
