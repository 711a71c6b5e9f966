#include <doctest/doctest.h>

#include <cstdio>
#include <memory>

#include "runtime/bench_run/agenda.h"
#include "runtime/bench_run/play_table.h"
#include "runtime/bench_run/rail_board.h"
#include "runtime/bench_run/recent_readings.h"
#include "runtime/bench_run/run_log.h"
#include "runtime/bench_run/schedule.h"
#include "runtime/bench_run/trip_signs.h"
#include "runtime/bench_run/words.h"

using namespace rampart;
using namespace rampart::bench_run;

namespace {

struct Close {
  void operator()(std::FILE* stream) const { std::fclose(stream); }
};

std::unique_ptr<std::FILE, Close> file_of(const std::string& text) {
  std::unique_ptr<std::FILE, Close> stream(std::tmpfile());
  std::fwrite(text.data(), 1, text.size(), stream.get());
  return stream;
}

constexpr const char* kHead =
    R"("title": "T", "origin": {"profile": {"name": "p", "sha256": "ab"}},
    "setup": {"rails": [{"rail": "core", "channels": ["s.a"], "arrangement": null, "reversed": false}],
    "channels": [{"channel": "s.a", "rail": "core", "sense": "local", "coupled": [], "interpolation": "hold",
    "protection": {"overvoltage_V": 5.5, "fuse": {"delay_s": 0.05, "current_A": null, "switches_off": []}, "overpower": null}}],
    "lines": []})";

std::string table(const std::string& segments) {
  return "{" + std::string(kHead) + ", \"segments\": [" + segments + "]}";
}

std::string mistake_in(const std::string& text, std::vector<TableItem>* items = nullptr) {
  TableHead head;
  return read_table(file_of(text).get(), head, [&](TableItem item) {
    if (items != nullptr) items->push_back(std::move(item));
    return true;
  });
}

Clock::time_point at(int milliseconds) {
  return Clock::time_point(std::chrono::milliseconds(milliseconds));
}

Reading reading(std::size_t channel, double volts, double amps, int begun) {
  Reading one;
  one.channel = channel;
  one.volts = volts;
  one.amps = amps;
  one.begun = at(begun);
  return one;
}

// Two rails: one on two channels in series, connected the other way round, and one on two in parallel.
Plan two_rails() {
  Plan plan;
  for (const char* name : {"s.a", "s.b", "s.c", "s.d"}) {
    PlanChannel channel;
    channel.name = name;
    plan.channels.push_back(channel);
  }
  plan.head.rails = {{"low", {"s.a", "s.b"}, true, true}, {"wide", {"s.c", "s.d"}, false, false}};
  return plan;
}

ConditionWait at_least(Measured quantity, const std::string& rail, double value) {
  return {"", {{ConditionOp::Compare, {{quantity, rail, 1}}, -value, false}}};
}

}  // namespace

TEST_CASE("a table is read item by item") {
  std::vector<TableItem> items;
  const std::string text = table(
      R"({"segment": "1", "marks": [{"time_s": 0.5, "name": "up"}], "measurements": [{"time_s": 1, "name": "m", "over_s": 0.2}],
      "rows": [{"time_s": 0, "channel": "s.a", "voltage_V": 0, "current_A": 0, "output": false, "place": null},
      {"time_s": 1.000000001, "channel": "s.a", "voltage_V": 3.335, "current_A": 1, "output": true, "place": null}],
      "duration_s": 2, "then": {"await": "condition", "condition": "core >= 1 V", "within_s": 5, "assume_s": null,
      "steps": [{"op": "compare", "terms": [{"quantity": "voltage", "rail": "core", "factor": 1}], "constant": -1, "strict": false}]}})");
  CHECK(mistake_in(text, &items) == "");
  REQUIRE(items.size() == 4);
  const auto& begin = std::get<SegmentBegin>(items[0]);
  CHECK(begin.name == "1");
  CHECK(begin.marks.at(0).time == std::chrono::milliseconds(500));
  CHECK(begin.measurements.at(0).over == std::chrono::milliseconds(200));
  // A limit of 0 says that none was set.
  CHECK_FALSE(std::get<TableInstant>(items[1]).rows.at(0).current);
  const auto& second = std::get<TableInstant>(items[2]);
  CHECK(second.time == Nanoseconds(1'000'000'001));
  CHECK(second.rows.at(0).voltage == Rational::fraction(3335, 1000));
  const auto& end = std::get<SegmentEnd>(items[3]);
  REQUIRE(end.then);
  CHECK(std::get<ConditionWait>(end.then->what).steps.at(0).constant == -1);
}

TEST_CASE("tables that break off or do not fit together are said to") {
  const std::string segment =
      R"({"segment": "1", "rows": [{"time_s": 0, "channel": "s.a", "voltage_V": 0, "current_A": 1, "output": true}], "duration_s": 1, "then": )";
  CHECK(mistake_in(table(segment + "null}")) == "");
  CHECK(mistake_in("{") != "");
  CHECK(mistake_in("[]") != "");
  CHECK(mistake_in("{\"segments\": []}") == "the key `title` is missing");
  CHECK(mistake_in(table(segment + "3}")) != "");
  CHECK(mistake_in(table(segment + R"({"await": "rain", "within_s": 1}})")) == "there is no wait for `rain`");
  CHECK(mistake_in(
            table(segment + R"({"await": "condition", "condition": "", "within_s": 1, "steps": [{"op": "and"}]}})")) ==
        "the steps of a condition do not fit together");
  CHECK(mistake_in(table(segment + R"({"await": "condition", "condition": "", "within_s": 1, "steps": []}})")) ==
        "the steps of a condition do not fit together");
  CHECK(mistake_in(table(R"({"rows": [{"time_s": 0}], "segment": "1"})")) == "a segment has rows before its name");
  CHECK(mistake_in(table(R"({"segment": "1", "rows": [{"time_s": -1}]})")) == "`time_s` is not a time");
  CHECK(
      mistake_in(table(R"({"segment": "1", "rows": [{"time_s": 0, "channels": {}, "lines": {}}]})")).find("instants") !=
      std::string::npos);
}

TEST_CASE("items come one at a time, and reading ends with whoever takes them") {
  std::string rows;
  for (int i = 0; i < 5000; ++i) {
    rows += (i > 0 ? "," : "") + std::string(R"({"time_s": )") + std::to_string(i) +
            R"(, "channel": "s.a", "voltage_V": 0, "current_A": 1, "output": true})";
  }
  const auto file = file_of(table(R"({"segment": "1", "rows": [)" + rows + R"(], "duration_s": 5000, "then": null})"));
  {
    TableItems items(file.get());
    int count = 0;
    while (items.next()) ++count;
    CHECK(count == 5002);
    CHECK(items.mistake() == "");
  }
  TableItems few(file.get());
  CHECK(few.next().has_value());
}

TEST_CASE("marks and measurements come in time, measurements that end before marks before those that begin") {
  Agenda agenda({"1",
                 {{Nanoseconds(10), "a"}, {Nanoseconds(20), "b"}},
                 {{Nanoseconds(10), "m", Nanoseconds(4)}, {Nanoseconds(14), "n", Nanoseconds(4)}}});
  std::string seen;
  while (const auto time = agenda.next_time()) {
    CHECK(agenda.next_before(*time - Nanoseconds(1)) == nullptr);
    const Due* due = agenda.next_before(*time);
    REQUIRE(due != nullptr);
    seen += std::to_string(due->time.count()) +
            (due->act == Act::Mark               ? "!"
             : due->act == Act::BeginMeasurement ? "("
                                                 : ")") +
            due->name + " ";
  }
  CHECK(seen == "6(m 10)m 10!a 10(n 14)n 20!b ");
}

// Channels in series add up, so do currents in parallel; a reversed rail is negative.
TEST_CASE("conditions hold by readings that are new enough") {
  const Plan plan = two_rails();
  RecentReadings readings(plan);
  const auto low = [&](double value, std::size_t back, int since) {
    return readings.holds(at_least(Measured::Voltage, "low", value), back, at(since));
  };
  CHECK(low(-20, 0, 0) == std::nullopt);
  readings.take(reading(0, 5, 1, 100));
  CHECK(low(-20, 0, 0) == std::nullopt);
  readings.take(reading(1, 7, 1, 110));
  CHECK(low(-12, 0, 100) == true);
  CHECK(low(-11.9, 0, 100) == false);
  CHECK(low(-12, 0, 101) == std::nullopt);
  CHECK(low(-12, 1, 0) == std::nullopt);
  readings.take(reading(0, 1, 1, 200));
  readings.take(reading(1, 1, 1, 210));
  CHECK(low(-2, 0, 150) == true);
  CHECK(low(-2, 1, 150) == std::nullopt);
  CHECK(low(-2, 1, 0) == false);
  readings.take(reading(2, 3, 0.25, 200));
  readings.take(reading(3, 3, 0.5, 200));
  CHECK(readings.holds(at_least(Measured::Current, "wide", 0.75), 0, at(0)) == true);
  CHECK(readings.holds(at_least(Measured::Current, "wide", 0.76), 0, at(0)) == false);
  CHECK(readings.holds(at_least(Measured::Power, "wide", 2.25), 0, at(0)) == true);
  ConditionWait both = at_least(Measured::Current, "wide", 0.5);
  both.steps.push_back(at_least(Measured::Current, "wide", 5).steps.front());
  both.steps.push_back({ConditionOp::Not, {}, 0, false});
  both.steps.push_back({ConditionOp::And, {}, 0, false});
  CHECK(readings.holds(both, 0, at(0)) == true);
  both.steps.back().op = ConditionOp::Or;
  CHECK(readings.holds(both, 0, at(0)) == true);
  CHECK(readings.means(at(150)) == " low -2 V, 1 A; wide 3 V, 750 mA");
}

TEST_CASE("lines of the log") {
  LogRow row;
  row.time = Nanoseconds(1'500'000'000);
  row.segment = "1";
  row.text = "wait-begin operator \"Go, now\" within 1 s";
  CHECK(log_line(row) == "1.500000000,event,1,,,,,,,,,,,,\"wait-begin operator \"\"Go, now\"\" within 1 s\"\n");
  row = {};
  row.kind = LogKind::Command;
  row.channel = "s.a";
  row.set_V = Rational::fraction(3335, 1000);
  row.output = true;
  row.planned = Nanoseconds(0);
  row.sent = Nanoseconds(1);
  row.acked = Nanoseconds(2'000);
  CHECK(log_line(row) == "0.000000000,command,,s.a,,,3.335,,1,,,0.000000000,0.000000001,0.000002000,\n");
  row = {};
  row.kind = LogKind::Reading;
  row.measured_V = -0.0;
  row.quality = "missing";
  CHECK(log_line(row) == "0.000000000,reading,,,0.000000,,,,,,missing,,,,\n");
}

TEST_CASE("a condition register tells the mode and a trip") {
  link::SupplyLink link;
  link.condition_bits = {1, 0, 9, 10, std::nullopt, std::nullopt};
  CHECK(read_condition(link, 2).mode == "CV");
  CHECK(read_condition(link, 1).mode == "CC");
  // Both or neither: the supply contradicts itself, or holds nothing.
  CHECK(read_condition(link, 3).mode.empty());
  CHECK(read_condition(link, 0).mode.empty());
  CHECK(read_condition(link, 2).cause.empty());
  CHECK(read_condition(link, 512).cause == "overvoltage");
  CHECK(read_condition(link, 1024 + 2).cause == "fuse");
  CHECK(read_condition(link, 2048).cause.empty());
}

TEST_CASE("rails are put together from their channels") {
  const Plan plan = two_rails();
  RailBoard board(plan);
  for (const char* name : {"s.a", "s.b", "s.c", "s.d"}) board.take(TableRow{name, Rational(3), Rational(1), true});
  board.take(reading(0, 3, 0.5, 0));
  board.take(reading(1, 2.5, 0.5, 0));
  board.take(reading(2, 3, 0.25, 0));
  board.take(reading(3, 3, 0.5, 0));
  std::vector<RailStatus> rails = board.rails();
  REQUIRE(rails.size() == 2);
  CHECK(rails[0].set_V == -6.0);
  CHECK(rails[0].measured_V == -5.5);
  CHECK(rails[0].measured_A == 0.5);
  CHECK(rails[1].measured_V == 3.0);
  CHECK(rails[1].measured_A == 0.75);
  CHECK(rails[0].is_on);
  CHECK(board.outputs_on() == "s.a (3 V), s.b (3 V), s.c (3 V), s.d (3 V)");
  board.note_trip(1, "fuse");
  CHECK_FALSE(board.rails()[0].is_on);
  CHECK(board.rails()[1].is_on);
  CHECK(board.trip_cause(1) == "fuse");
  CHECK(board.trip_cause(0).empty());
}

// IEEE 488.2, 11.5.1.1: bits 0 and 1 are operation complete and request control.
TEST_CASE("event bits that are a reason to stop") {
  CHECK_FALSE(is_reason_to_stop(0));
  CHECK_FALSE(is_reason_to_stop(3));
  for (const int bit : {4, 8, 16, 32, 64, 128}) CHECK(is_reason_to_stop(bit));
  CHECK(event_words("left", 128 + 32) == "left was switched off and on");
  CHECK(event_words("left", 64) == "someone used the front panel of left");
}

TEST_CASE("late rows move those after them, and long pauses take that up") {
  using std::chrono::milliseconds;
  Schedule schedule;
  schedule.begin(at(1000));
  CHECK(schedule.next(milliseconds(100)) == at(1100));
  schedule.delay(milliseconds(30));
  // The distance of two rows stays that of the table.
  CHECK(schedule.next(milliseconds(120)) == at(1150));
  CHECK(schedule.next(milliseconds(1100)) == at(2130));
  // A hundredth of a pause of a second, and of one of two seconds.
  CHECK(schedule.next(milliseconds(2100)) == at(3120));
  CHECK(schedule.next(milliseconds(4100)) == at(5100));
  CHECK(schedule.behind() == milliseconds(0));
  CHECK(schedule.next(milliseconds(9100)) == at(10100));
  CHECK(schedule.most_behind() == milliseconds(30));
  schedule.delay(milliseconds(5));
  schedule.begin(at(20000));
  CHECK(schedule.next(milliseconds(0)) == at(20000));
  CHECK(schedule.most_behind() == milliseconds(30));
}
