#include "compiler/table/table.h"

#include <doctest/doctest.h>
#include <sys/resource.h>

#include <algorithm>
#include <map>
#include <string>
#include <tuple>
#include <variant>

#include "compiler/export/csv.h"
#include "tests/support/program_builder.h"
#include "tests/support/string_sink.h"

using namespace rampart;
using namespace rampart::test;

namespace {

// The CSV of a program without its header, channels named s1.ch1 and so on.
std::string rows_of(const Bench& bench, const Program& program, Profile profile) {
  profile.run = program;
  FindingSink findings;
  const std::optional<Timeline> timeline = build_timeline(profile, profile.run, TimelineStart::Off, findings);
  REQUIRE(timeline);
  const Table table(profile, bench, *timeline);
  StringSink sink;
  write_csv(table, nullptr, RowForm::Changes, sink);
  return sink.text().substr(sink.text().find('\n') + 1);
}

std::string rows_of(const Bench& bench, const Program& program) {
  return rows_of(bench, program, make_profile(bench));
}

}  // namespace

// The expected rows below are worked by hand from the rules in docs/language.md.

TEST_CASE("a ramp becomes stairs that are never early and end on target") {
  const Bench bench = make_bench({{}});
  CHECK(rows_of(bench, {ramp(0, "40 mV", "40 ms")}) ==
        "0.000000000,s1.ch1,0.00,0.000,0\n"
        "0.010000000,s1.ch1,0.01,0.000,0\n"
        "0.020000000,s1.ch1,0.02,0.000,0\n"
        "0.030000000,s1.ch1,0.03,0.000,0\n"
        "0.040000000,s1.ch1,0.04,0.000,0\n");
}

TEST_CASE("stairs are no smaller than one count and lie on the grid") {
  const Bench bench = make_bench({{}});
  CHECK(rows_of(bench, {ramp(0, "30 mV", "100 ms")}) ==
        "0.000000000,s1.ch1,0.00,0.000,0\n"
        "0.033000000,s1.ch1,0.01,0.000,0\n"
        "0.067000000,s1.ch1,0.02,0.000,0\n"
        "0.100000000,s1.ch1,0.03,0.000,0\n");
}

TEST_CASE("stairs are no shorter than the minimum step") {
  const Bench bench = make_bench({{}});
  CHECK(rows_of(bench, {ramp(0, "1 V", "25 ms")}) ==
        "0.000000000,s1.ch1,0.00,0.000,0\n"
        "0.013000000,s1.ch1,0.50,0.000,0\n"
        "0.025000000,s1.ch1,1.00,0.000,0\n");
}

TEST_CASE("statements at one instant make one row, and a segment ends with a row") {
  const Bench bench = make_bench({{}});
  CHECK(rows_of(bench, {limit(0, "500 mA"), step(0, "1 V"), on(0), step(0, "2 V"), dwell("1 s")}) ==
        "0.000000000,s1.ch1,2.00,0.500,1\n"
        "1.000000000,s1.ch1,2.00,0.500,1\n");
}

TEST_CASE("off keeps the setpoint in the row") {
  const Bench bench = make_bench({{}});
  CHECK(rows_of(bench, {limit(0, "1 A"), step(0, "5 V"), on(0), dwell("20 ms"), off(0), dwell("20 ms")}) ==
        "0.000000000,s1.ch1,5.00,1.000,1\n"
        "0.020000000,s1.ch1,5.00,1.000,0\n"
        "0.040000000,s1.ch1,5.00,1.000,0\n");
}

TEST_CASE("channels merge by time and then in the bench's order") {
  SupplySpec supply;
  supply.channels = {{"ch1"}, {"ch2"}};
  const Bench bench = make_bench({supply});
  Ramp both;
  both.motions = {motion(1, "20 mV"), motion(0, "20 mV")};
  both.pace = time("20 ms");
  CHECK(rows_of(bench, {statement(both)}) ==
        "0.000000000,s1.ch1,0.00,0.000,0\n"
        "0.000000000,s1.ch2,0.00,0.000,0\n"
        "0.010000000,s1.ch1,0.01,0.000,0\n"
        "0.010000000,s1.ch2,0.01,0.000,0\n"
        "0.020000000,s1.ch1,0.02,0.000,0\n"
        "0.020000000,s1.ch2,0.02,0.000,0\n");
}

TEST_CASE("rows stay in order of time where supplies have different grids") {
  SupplySpec fine;
  SupplySpec coarse;
  coarse.resolution = "10 ms";
  const Bench bench = make_bench({coarse, fine});
  // 15 ms lies between the coarse grid's 10 and 20 ms and rounds away from zero; 17 ms is on the fine grid.
  CHECK(rows_of(bench, {dwell("15 ms"), step(0, "1 V"), dwell("2 ms"), step(1, "1 V"), dwell("13 ms")}) ==
        "0.000000000,s1.ch1,0.00,0.000,0\n"
        "0.000000000,s2.ch1,0.00,0.000,0\n"
        "0.017000000,s2.ch1,1.00,0.000,0\n"
        "0.020000000,s1.ch1,1.00,0.000,0\n"
        "0.030000000,s1.ch1,1.00,0.000,0\n"
        "0.030000000,s2.ch1,1.00,0.000,0\n");
}

TEST_CASE("a ramp is not cut by what happens on another rail meanwhile") {
  SupplySpec supply;
  supply.channels = {{"ch1"}, {"ch2"}};
  const Bench bench = make_bench({supply});
  CHECK(rows_of(bench, {together({{ramp(0, "20 mV", "40 ms")}, {dwell("15 ms"), step(1, "1 V")}})}) ==
        "0.000000000,s1.ch1,0.00,0.000,0\n"
        "0.000000000,s1.ch2,0.00,0.000,0\n"
        "0.015000000,s1.ch2,1.00,0.000,0\n"
        "0.020000000,s1.ch1,0.01,0.000,0\n"
        "0.040000000,s1.ch1,0.02,0.000,0\n"
        "0.040000000,s1.ch2,1.00,0.000,0\n");
}

TEST_CASE("a limit that jumps during a ramp cuts it in two pieces") {
  const Bench bench = make_bench({{}});
  CHECK(rows_of(bench, {together({{ramp(0, "1 V", "40 ms")}, {dwell("15 ms"), limit(0, "1 A")}})}) ==
        "0.000000000,s1.ch1,0.00,0.000,0\n"
        "0.015000000,s1.ch1,0.38,1.000,0\n"
        "0.028000000,s1.ch1,0.69,1.000,0\n"
        "0.040000000,s1.ch1,1.00,1.000,0\n");
}

TEST_CASE("a linear supply gets the points that its straight runs connect") {
  SupplySpec supply;
  supply.interpolation = Interpolation::Linear;
  const Bench bench = make_bench({supply});
  CHECK(rows_of(bench,
                {limit(0, "1 A"), on(0), ramp(0, "1 V", "100 ms"), dwell("100 ms"), step(0, "0 V"), dwell("100 ms")}) ==
        "0.000000000,s1.ch1,0.00,1.000,1\n"
        "0.100000000,s1.ch1,1.00,1.000,1\n"
        "0.200000000,s1.ch1,1.00,1.000,1\n"
        "0.210000000,s1.ch1,0.00,1.000,1\n"
        "0.300000000,s1.ch1,0.00,1.000,1\n");
}

TEST_CASE("a jump on a linear supply takes a minimum step, whatever comes after it") {
  const Bench bench = make_bench({{.interpolation = Interpolation::Linear}});
  // The jump lands on the ramp that follows it: 1 V and 10 ms at 1 V/s.
  CHECK(rows_of(bench, {dwell("100 ms"), step(0, "1 V"), ramp(0, "2 V", "1 s")}) ==
        "0.000000000,s1.ch1,0.00,0.000,0\n"
        "0.100000000,s1.ch1,0.00,0.000,0\n"
        "0.110000000,s1.ch1,1.01,0.000,0\n"
        "1.100000000,s1.ch1,2.00,0.000,0\n");
  // Voltage and limit jump as one.
  CHECK(rows_of(bench, {limit(0, "1 A"), dwell("100 ms"), step(0, "1 V"), limit(0, "2 A"), dwell("100 ms")}) ==
        "0.000000000,s1.ch1,0.00,1.000,0\n"
        "0.100000000,s1.ch1,0.00,1.000,0\n"
        "0.110000000,s1.ch1,1.00,2.000,0\n"
        "0.200000000,s1.ch1,1.00,2.000,0\n");
}

TEST_CASE("a linear row says where its straight run leads") {
  SupplySpec supply;
  supply.interpolation = Interpolation::Linear;
  const Bench bench = make_bench({supply});
  Profile profile = make_profile(bench);
  profile.run = {ramp(0, "1 V", "100 ms"), dwell("100 ms"), step(0, "0 V"), dwell("100 ms")};
  FindingSink findings;
  const std::optional<Timeline> timeline = build_timeline(profile, profile.run, TimelineStart::Off, findings);
  const Table table(profile, bench, *timeline);
  RowCursor cursor = table.rows();
  std::vector<std::pair<std::int64_t, std::int64_t>> runs;  // until in ms, counts there
  while (const std::optional<TableItem> item = cursor.next()) {
    if (const auto* row = std::get_if<Row>(&*item))
      runs.emplace_back(row->until.count() / 1'000'000, row->voltage_until);
  }
  const std::vector<std::pair<std::int64_t, std::int64_t>> expected{
      {100, 100}, {100, 100}, {210, 0}, {210, 0}, {300, 0}};
  CHECK(runs == expected);
}

TEST_CASE("a repeat is the same as its body written out") {
  const Bench bench = make_bench({{}});
  const Program body{step(0, "1 V"), dwell("20 ms"),       ramp_at(0, "2 V", "13 V/s"),
                     dwell("20 ms"), step_by(0, "-0.5 V"), dwell("13 ms")};
  Program written;
  for (int i = 0; i < 7; ++i) written.insert(written.end(), body.begin(), body.end());
  CHECK(rows_of(bench, {repeat(7, body)}) == rows_of(bench, written));
}

TEST_CASE("shifting setpoints add up from pass to pass") {
  const Bench bench = make_bench({{}});
  CHECK(rows_of(bench, {repeat(3, {step_by(0, "1 V"), dwell("20 ms")})}) ==
        "0.000000000,s1.ch1,1.00,0.000,0\n"
        "0.020000000,s1.ch1,2.00,0.000,0\n"
        "0.040000000,s1.ch1,3.00,0.000,0\n"
        "0.060000000,s1.ch1,3.00,0.000,0\n");
}

TEST_CASE("repeat for a time makes as many whole passes as fit") {
  const Bench bench = make_bench({{}});
  Profile profile = make_profile(bench);
  // First pass: 0 to 2 V and back at 1 V/s is 4 s; later passes the same. 1 + floor((48 h - 4 s) / 4 s) = 43,200.
  profile.run = {repeat_for("48 h", {ramp_at(0, "2 V", "1 V/s"), ramp_at(0, "0 V", "1 V/s")})};
  FindingSink findings;
  const std::optional<Timeline> timeline = build_timeline(profile, profile.run, TimelineStart::Off, findings);
  REQUIRE(timeline);
  CHECK(timeline->duration() == time("48 h"));
}

TEST_CASE("repeat for a time counts a first pass that is longer by itself") {
  const Bench bench = make_bench({{}});
  Profile profile = make_profile(bench);
  // First pass: 0 to 2 V and back to 1 V at 1 V/s is 3 s; later ones start at 1 V and take 2 s. 8 s hold 3 s + 2 * 2 s.
  profile.run = {repeat_for("8 s", {ramp_at(0, "2 V", "1 V/s"), ramp_at(0, "1 V", "1 V/s")})};
  FindingSink findings;
  const std::optional<Timeline> timeline = build_timeline(profile, profile.run, TimelineStart::Off, findings);
  REQUIRE(timeline);
  CHECK(timeline->duration() == time("7 s"));
}

TEST_CASE("a rail that follows a follower goes along with the leader") {
  SupplySpec supply;
  supply.channels = {{"ch1"}, {"ch2"}, {"ch3"}};
  const Program inner{statement(Track{RailId{2}, RailId{1}, {step(0, "2 V"), dwell("20 ms")}})};
  // r2 follows r1 and r3 follows r2: 2 V more of r1 are 2 V more of both.
  CHECK(rows_of(make_bench({supply}),
                {step(1, "1 V"), step(2, "0.5 V"), dwell("20 ms"), statement(Track{RailId{1}, RailId{0}, inner})}) ==
        "0.000000000,s1.ch1,0.00,0.000,0\n"
        "0.000000000,s1.ch2,1.00,0.000,0\n"
        "0.000000000,s1.ch3,0.50,0.000,0\n"
        "0.020000000,s1.ch1,2.00,0.000,0\n"
        "0.020000000,s1.ch2,3.00,0.000,0\n"
        "0.020000000,s1.ch3,2.50,0.000,0\n"
        "0.040000000,s1.ch1,2.00,0.000,0\n"
        "0.040000000,s1.ch2,3.00,0.000,0\n"
        "0.040000000,s1.ch3,2.50,0.000,0\n");
}

TEST_CASE("a reversed follower of a rail that is not goes the other way, and its own follower back") {
  SupplySpec supply;
  supply.channels = {{"ch1"}, {"ch2"}, {"ch3"}};
  const Bench bench = make_bench({supply});
  Profile profile = make_profile(bench);
  profile.rails[1].reversed = true;
  const Program inner{statement(Track{RailId{2}, RailId{1}, {step(0, "2 V"), dwell("20 ms")}})};
  // r1 goes up by 2 V, r2 from -1 V to -3 V, which its channel has as 3 V, and r3 from 1 V to 3 V.
  CHECK(rows_of(bench, {step(1, "-1 V"), step(2, "1 V"), dwell("20 ms"), statement(Track{RailId{1}, RailId{0}, inner})},
                profile) ==
        "0.000000000,s1.ch1,0.00,0.000,0\n"
        "0.000000000,s1.ch2,1.00,0.000,0\n"
        "0.000000000,s1.ch3,1.00,0.000,0\n"
        "0.020000000,s1.ch1,2.00,0.000,0\n"
        "0.020000000,s1.ch2,3.00,0.000,0\n"
        "0.020000000,s1.ch3,3.00,0.000,0\n"
        "0.040000000,s1.ch1,2.00,0.000,0\n"
        "0.040000000,s1.ch2,3.00,0.000,0\n"
        "0.040000000,s1.ch3,3.00,0.000,0\n");
}

TEST_CASE("a follower stays once the leader has let it go") {
  SupplySpec supply;
  supply.channels = {{"ch1"}, {"ch2"}};
  const Program together_up{step(0, "1 V"), dwell("20 ms")};
  CHECK(rows_of(make_bench({supply}),
                {statement(Track{RailId{1}, RailId{0}, together_up}), step(0, "3 V"), dwell("20 ms")}) ==
        "0.000000000,s1.ch1,1.00,0.000,0\n"
        "0.000000000,s1.ch2,1.00,0.000,0\n"
        "0.020000000,s1.ch1,3.00,0.000,0\n"
        "0.040000000,s1.ch1,3.00,0.000,0\n"
        "0.040000000,s1.ch2,1.00,0.000,0\n");
}

TEST_CASE("a statement lasts as long as the longest of its moves, and goes on from where a loop has led") {
  SupplySpec supply;
  supply.channels = {{"ch1"}, {"ch2"}};
  const Bench bench = make_bench({supply});
  Profile profile = make_profile(bench);
  const auto duration_of = [&](Program run) {
    profile.run = std::move(run);
    FindingSink findings;
    const std::optional<Timeline> timeline = build_timeline(profile, profile.run, TimelineStart::Off, findings);
    REQUIRE(timeline);
    return timeline->duration();
  };
  // 3 V and 1 V at 1 V/s.
  CHECK(duration_of({statement(Ramp{{motion(0, "3 V"), motion(1, "1 V")}, number("1 V/s")})}) == time("3 s"));
  // Four passes lead to 4 V: 4 s, and 6 s from there to 10 V.
  CHECK(duration_of({repeat(4, {step_by(0, "1 V"), dwell("1 s")}), ramp_at(0, "10 V", "1 V/s")}) == time("10 s"));
}

TEST_CASE("a row that would say what a channel holds already is left out") {
  // In steps of 10 mV both are 1 V.
  CHECK(rows_of(make_bench({{}}), {step(0, "1.001 V"), dwell("20 ms"), step(0, "1.002 V"), dwell("20 ms")}) ==
        "0.000000000,s1.ch1,1.00,0.000,0\n"
        "0.040000000,s1.ch1,1.00,0.000,0\n");
}

TEST_CASE("a limit that is set to what it is does not cut a ramp") {
  SupplySpec coarse;
  coarse.minimum_step = "300 ms";
  // 1 V in 1 s: three stairs of 333 ms. Cut in half it would be two of 500 ms.
  const Program ramps{ramp(0, "1 V", "1 s")};
  const Program sets{dwell("500 ms"), limit(0, "1 A"), dwell("500 ms")};
  CHECK(rows_of(make_bench({coarse}), {limit(0, "1 A"), together({ramps, sets})}) ==
        "0.000000000,s1.ch1,0.00,1.000,0\n"
        "0.333000000,s1.ch1,0.33,1.000,0\n"
        "0.667000000,s1.ch1,0.67,1.000,0\n"
        "1.000000000,s1.ch1,1.00,1.000,0\n");
}

TEST_CASE("skipping passes gives the same rows as walking them") {
  const Bench bench = make_bench({{}});
  Profile profile = make_profile(bench);
  // 35 ms passes on a 10 ms grid would put their rows alike every second pass only.
  SupplySpec coarse;
  coarse.resolution = "10 ms";
  const Bench coarse_bench = make_bench({coarse});
  profile.run = {repeat(50, {step(0, "1 V"), dwell("20 ms"), step(0, "2 V"), dwell("15 ms")}), step(0, "3 V"),
                 dwell("30 ms")};
  FindingSink findings;
  const std::optional<Timeline> timeline = build_timeline(profile, profile.run, TimelineStart::Off, findings);
  const Table table(profile, coarse_bench, *timeline);
  const auto tail = [&table](bool skip) {
    RowCursor cursor = table.rows();
    std::map<std::int64_t, StateKey> states;
    std::vector<std::pair<std::int64_t, std::int64_t>> rows;
    while (const std::optional<TableItem> item = cursor.next()) {
      if (const auto* row = std::get_if<Row>(&*item)) rows.emplace_back(row->time.count(), row->voltage);
      const auto* pass = std::get_if<PassEnded>(&*item);
      if (pass == nullptr || !skip) continue;
      CHECK(pass->unit == 2);
      const StateKey state = cursor.state();
      const auto before = states.find(pass->pass - pass->unit);
      if (before != states.end() && before->second == state) {
        cursor.skip_passes(pass->remaining / pass->unit * pass->unit);
        skip = false;
      }
      states[pass->pass] = state;
    }
    return std::vector(rows.end() - 3, rows.end());
  };
  CHECK(tail(true) == tail(false));
}

// Two channels of one grid whose stairs fall together now and then, and one of another grid, which steps among them.
TEST_CASE("rows given in numbers are those given one by one, in order") {
  SupplySpec two;
  two.channels = {ChannelSpec{"ch1"}, ChannelSpec{"ch2"}};
  SupplySpec fine;
  fine.minimum_step = "7 ms";
  const Bench bench = make_bench({two, fine});
  Profile profile = make_profile(bench);
  profile.run = {repeat(3, {together({{ramp(1, "1 V", "200 ms"), ramp(1, "0 V", "1 s")},
                                      {ramp(0, "500 mV", "400 ms"), ramp(0, "0 V", "300 ms")},
                                      {ramp(2, "2 V", "350 ms"), step(2, "1 V"), dwell("90 ms"), step(2, "0 V")}})})};
  FindingSink findings;
  const std::optional<Timeline> timeline = build_timeline(profile, profile.run, TimelineStart::Off, findings);
  REQUIRE(timeline);
  const Table table(profile, bench, *timeline);
  using Short = std::tuple<std::int64_t, ChannelId, std::int64_t, bool>;
  const auto shortened = [](const Row& row) { return Short{row.time.count(), row.channel, row.voltage, row.is_stair}; };
  const auto walk = [&](bool in_numbers) {
    std::vector<Short> rows;
    std::size_t numbers = 0;
    RowCursor cursor = table.rows();
    while (true) {
      if (in_numbers) {
        for (const Row& row : cursor.next_rows()) {
          rows.push_back(shortened(row));
          ++numbers;
        }
      }
      const std::optional<TableItem> item = cursor.next();
      if (!item) break;
      if (const auto* row = std::get_if<Row>(&*item)) rows.push_back(shortened(*row));
    }
    CHECK((numbers > 100) == in_numbers);
    return rows;
  };
  const std::vector<Short> rows = walk(false);
  CHECK(rows == walk(true));
  CHECK(std::is_sorted(rows.begin(), rows.end(), [](const Short& a, const Short& b) {
    return std::tie(std::get<0>(a), std::get<1>(a)) < std::tie(std::get<0>(b), std::get<1>(b));
  }));
  CHECK(rows.size() > 300);
}

TEST_CASE("passes that take no time and change nothing are not walked") {
  const Bench bench = make_bench({{}});
  const Program inner{repeat(1'000'000'000'000, {})};
  CHECK(rows_of(bench, {repeat(1'000'000'000'000, inner), dwell("20 ms")}) ==
        "0.000000000,s1.ch1,0.00,0.000,0\n"
        "0.020000000,s1.ch1,0.00,0.000,0\n");
}

TEST_CASE("each wait starts a new segment with a full row a channel") {
  const Bench bench = make_bench({{}});
  Await wait;
  wait.what = AwaitOperator{"connect the load"};
  wait.within = time("10 min");
  wait.assume = time("1 min");
  CHECK(rows_of(bench, {step(0, "1 V"), dwell("15 ms"), statement(wait), dwell("20 ms"), step(0, "0 V")}) ==
        "1,0.000000000,s1.ch1,1.00,0.000,0\n"
        "1,0.015000000,s1.ch1,1.00,0.000,0\n"
        "2,0.000000000,s1.ch1,1.00,0.000,0\n"
        "2,0.020000000,s1.ch1,0.00,0.000,0\n");
}

TEST_CASE("safe leaves empty what it does not know, and refuses to go on from it") {
  SupplySpec supply;
  supply.channels = {{"ch1"}, {"ch2"}};
  const Bench bench = make_bench({supply});
  Profile profile = make_profile(bench);
  profile.run = {dwell("1 s")};
  profile.safe = Program{step(1, "0 V"), dwell("20 ms"), off(1), dwell("20 ms"), off(0)};
  FindingSink findings;
  const auto run = build_timeline(profile, profile.run, TimelineStart::Off, findings);
  const auto safe = build_timeline(profile, *profile.safe, TimelineStart::Unknown, findings);
  REQUIRE(run);
  REQUIRE(safe);
  const Table run_table(profile, bench, *run);
  const Table safe_table(profile, bench, *safe);
  StringSink sink;
  write_csv(run_table, &safe_table, RowForm::Changes, sink);
  CHECK(sink.text().substr(sink.text().find("safe")) ==
        "safe,0.000000000,s1.ch2,0.00,,\n"
        "safe,0.020000000,s1.ch2,0.00,,0\n"
        "safe,0.040000000,s1.ch1,,,0\n"
        "safe,0.040000000,s1.ch2,0.00,,0\n");

  profile.safe = Program{ramp(0, "0 V", "1 s")};
  CHECK_FALSE(build_timeline(profile, *profile.safe, TimelineStart::Unknown, findings));
  CHECK(findings.findings().back().name == "wrong-arguments");
  Statement known = ramp(0, "0 V", "1 s");
  std::get<Ramp>(known.what).motions.front().from = Rational(5);
  profile.safe = Program{known, ramp(0, "1 V", "1 s")};
  CHECK(build_timeline(profile, *profile.safe, TimelineStart::Unknown, findings));
}

TEST_CASE("series members share the voltage by their ranges, parallel members the current") {
  SupplySpec supply;
  supply.channels = {{"ch1"}, {"ch2"}, {"ch3"}};
  Bench bench = make_bench({supply});
  bench.combinations.push_back({"high",
                                Arrangement::Series,
                                supply.channels.empty()
                                    ? std::vector<ChannelId>{}
                                    : std::vector<ChannelId>{ChannelId{0}, ChannelId{1}, ChannelId{2}},
                                {}});
  Profile profile;
  Rail rail;
  rail.output = CombinationId{0};
  profile.rails.push_back(rail);
  // 10 V: three times 3.33 V, and the one count left over goes to the first. Common practice, no source.
  CHECK(rows_of(bench, {limit(0, "2 A"), step(0, "10 V"), on(0)}, profile) ==
        "0.000000000,s1.ch1,3.34,2.000,1\n"
        "0.000000000,s1.ch2,3.33,2.000,1\n"
        "0.000000000,s1.ch3,3.33,2.000,1\n");
  bench.combinations[0].arrangement = Arrangement::Parallel;
  CHECK(rows_of(bench, {limit(0, "9 A"), step(0, "10 V"), on(0)}, profile) ==
        "0.000000000,s1.ch1,10.00,3.000,1\n"
        "0.000000000,s1.ch2,10.00,3.000,1\n"
        "0.000000000,s1.ch3,10.00,3.000,1\n");
}

TEST_CASE("a profile that cannot be walked is refused with the bound it hits") {
  const Bench bench = make_bench({{}});
  const auto finding_of = [&bench](Program program) {
    Profile profile = make_profile(bench);
    profile.run = std::move(program);
    FindingSink findings;
    const bool built = build_timeline(profile, profile.run, TimelineStart::Off, findings).has_value();
    CHECK(built == findings.findings().empty());
    return findings.findings().empty() ? std::string() : std::string(findings.findings().front().name);
  };
  CHECK(finding_of({repeat(100'001, {step_by(0, "1 mV"), dwell("10 ms")})}) == "too-many-passes");
  CHECK(finding_of({repeat(100'000, {step_by(0, "1 mV"), dwell("10 ms")})}).empty());
  CHECK(finding_of({repeat(1'000'000'000, {dwell("1 d")})}) == "too-long");
  CHECK(finding_of({repeat_for("1 s", {dwell("2 s")})}) == "wrong-arguments");
  CHECK(finding_of({repeat_for("1 s", {step(0, "2 V")})}) == "wrong-arguments");
  CHECK(finding_of({together({{ramp(0, "1 V", "1 s")}, {step(0, "2 V")}})}) == "branch-conflict");
  CHECK(finding_of({together({{repeat(200'000, {step(0, "1 V"), dwell("10 ms")})}})}) == "too-large");
  Program nested{dwell("1 us")};
  for (int i = 0; i < 40; ++i) nested = {repeat(2, nested)};
  CHECK(finding_of(nested) == "too-large");
}

TEST_CASE("a reversed series combination sets no member below zero") {
  SupplySpec supply;
  supply.channels = {{"ch1", "31 V", "2 mV"}, {"ch2", "21 V", "25 mV"}};
  Bench bench = make_bench({supply});
  bench.combinations.push_back({"both", Arrangement::Series, {ChannelId{0}, ChannelId{1}}, {}});
  Profile profile;
  Rail rail;
  rail.output = CombinationId{0};
  rail.reversed = true;
  profile.rails.push_back(rail);
  // 18 mV are nine counts of 2 mV; a count of 25 mV is too much.
  CHECK(rows_of(bench, {limit(0, "1 A"), step(0, "-18 mV"), on(0)}, profile) ==
        "0.000000000,s1.ch1,0.018,1.000,1\n"
        "0.000000000,s1.ch2,0.000,1.000,1\n");
  // 31 of 52 parts of 1.5 V are 894.2 mV: 447 counts; 605.8 mV: 24 counts; the 6 mV that are left go to the finest.
  CHECK(rows_of(bench, {limit(0, "1 A"), step(0, "-1.5 V"), on(0)}, profile) ==
        "0.000000000,s1.ch1,0.900,1.000,1\n"
        "0.000000000,s1.ch2,0.600,1.000,1\n");
}

TEST_CASE("a long table takes no more memory than a short one") {
  SupplySpec fine;
  fine.minimum_step = fine.resolution = "1 us";
  fine.channels.front().voltage_resolution = "1 uV";
  const Bench bench = make_bench({fine});
  Profile profile = make_profile(bench);
  // 4,000,000 stairs of 1 us and 5 counts each.
  profile.run = {ramp(0, "20 V", "4 s")};
  FindingSink findings;
  const std::optional<Timeline> timeline = build_timeline(profile, profile.run, TimelineStart::Off, findings);
  REQUIRE(timeline);
  const Table table(profile, bench, *timeline);
  const auto most_kib = [] {
    rusage usage{};
    getrusage(RUSAGE_SELF, &usage);
    return usage.ru_maxrss;
  };
  const long before = most_kib();
  RowCursor cursor = table.rows();
  std::int64_t rows = 0;
  while (const std::optional<TableItem> item = cursor.next()) rows += std::holds_alternative<Row>(*item) ? 1 : 0;
  CHECK(rows == 4'000'001);
  // A sanitizer keeps up to 256 MiB of what was freed; held rows would be three times that.
  CHECK(most_kib() - before < 300 * 1024);
}

TEST_CASE("passes that never come round to the grid have a unit that no loop reaches") {
  // Grids that are prime numbers of nanoseconds: their product is beyond 64 bits.
  std::vector<SupplySpec> supplies;
  for (const char* grid : {"999983 ns", "999979 ns", "999961 ns", "999959 ns"}) {
    SupplySpec spec;
    spec.minimum_step = spec.resolution = grid;
    supplies.push_back(spec);
  }
  const Bench bench = make_bench(supplies);
  Profile profile = make_profile(bench);
  profile.run = {repeat(3, {dwell("1 s")})};
  FindingSink findings;
  const std::optional<Timeline> timeline = build_timeline(profile, profile.run, TimelineStart::Off, findings);
  REQUIRE(timeline);
  const Table table(profile, bench, *timeline);
  RowCursor cursor = table.rows();
  int passes = 0;
  while (const std::optional<TableItem> item = cursor.next()) {
    const auto* pass = std::get_if<PassEnded>(&*item);
    if (pass == nullptr) continue;
    ++passes;
    CHECK(pass->unit == kNeverAlike);
  }
  CHECK(passes == 3);
}
