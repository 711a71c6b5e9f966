#include "runtime/audit/audit.h"

#include <doctest/doctest.h>

#include <cstdio>
#include <string>
#include <vector>

#include "runtime/audit/recorded_setup.h"
#include "tests/support/program_builder.h"

using namespace rampart;
using namespace rampart::test;

namespace {

struct Audited {
  audit::AuditResult result;
  std::vector<std::string> found;  // "line name"
  std::vector<std::string> messages;
};

using Audit = decltype(audit::audit_csv);

Audited audited(const std::string& text, const Bench& bench, Audit& audit = audit::audit_csv,
                const audit::Record* beside = nullptr) {
  std::FILE* stream = std::tmpfile();
  std::fwrite(text.data(), 1, text.size(), stream);
  std::rewind(stream);
  SourceSet sources;
  FindingSink findings;
  Audited answer;
  answer.result = audit(stream, "t", bench, beside, sources, findings);
  std::fclose(stream);
  for (const Finding& finding : findings.findings()) {
    const Position place = sources[finding.span.file].position(finding.span.begin);
    answer.found.push_back(std::to_string(place.line) + " " + std::string(finding.name));
    answer.messages.push_back(finding.message);
  }
  return answer;
}

const std::string kHeader = "time_s,channel,voltage_V,current_A,output\n";

std::vector<std::string> found(const std::string& rows) {
  return audited(kHeader + rows, make_bench({{}})).found;
}

using Found = std::vector<std::string>;

}  // namespace

TEST_CASE("a sound table is let through, with LF or CRLF and with fewer digits") {
  CHECK(found("0.000000000,s1.ch1,0.00,1.000,1\n0.010000000,s1.ch1,0.01,1.000,1\n").empty());
  CHECK(found("0,s1.ch1,0,1,1\r\n0.01,s1.ch1,24,1,1\r\n").empty());
  CHECK(found("0,\"s1.ch1\",0,1,1\n0.02,s1.ch1,0,1,0\n").empty());
}

TEST_CASE("what no row of a table can be is found with its line") {
  CHECK(audited("", make_bench({{}})).found == Found{"1 table-malformed"});
  CHECK(audited("a,b\n", make_bench({{}})).found == Found{"1 table-malformed"});
  CHECK(found("0,s1.ch1,0,1\n") == Found{"2 table-malformed"});
  CHECK(found("0,s1.ch1,0,1,2\n") == Found{"2 table-malformed"});
  CHECK(found("0,s1.ch1,nan,1,1\n") == Found{"2 table-malformed"});
  CHECK(found("0,s1.ch1,1e3,1,1\n") == Found{"2 table-malformed"});
  CHECK(found("-1,s1.ch1,0,1,1\n") == Found{"2 table-malformed"});
  CHECK(found("0,s1.ch9,0,1,1\n") == Found{"2 table-malformed"});
  CHECK(found("0,\"s1.ch1,0,1,1\n") == Found{"2 table-malformed"});
  CHECK(found("99999999999999999999999999999999999999999,s1.ch1,0,1,1\n") == Found{"2 table-malformed"});
}

TEST_CASE("limits are broken by the least possible amount") {
  CHECK(found("0,s1.ch1,24.00,3.000,1\n").empty());
  CHECK(found("0,s1.ch1,24.01,3.000,1\n") == Found{"2 voltage-range"});
  CHECK(found("0,s1.ch1,24.00,3.001,1\n") == Found{"2 current-range"});
  CHECK(found("0,s1.ch1,23.995,3,1\n") == Found{"2 below-resolution"});
  CHECK(found("0,s1.ch1,24,3,1\n").empty());
  CHECK(found("0,s1.ch1,24.01,3,1\n") == Found{"2 voltage-range"});
  CHECK(found("0,s1.ch1,-1,3,1\n") == Found{"2 voltage-range"});
  CHECK(found("0,s1.ch1,1,0,1\n") == Found{"2 no-current-limit"});
  CHECK(found("0,s1.ch1,1,0,0\n").empty());
  // Once a channel, where it is first so.
  CHECK(found("0,s1.ch1,1,0,1\n1,s1.ch1,2,0,1\n2,s1.ch1,3,0,1\n") == Found{"2 no-current-limit"});
}

TEST_CASE("rows lie on the grid, in order, and no closer than the minimum step") {
  CHECK(found("0,s1.ch1,0,1,1\n0.0105,s1.ch1,1,1,1\n") == Found{"3 off-grid"});
  CHECK(found("0,s1.ch1,0,1,1\n0.02,s1.ch1,1,1,1\n0.01,s1.ch1,2,1,1\n") == Found{"4 table-order"});
  CHECK(found("0,s1.ch1,0,1,1\n0,s1.ch1,1,1,1\n") == Found{"3 table-order"});
  CHECK(found("0.01,s1.ch1,0,1,1\n") == Found{"2 table-order"});
  const std::string begin = "0,s1.ch1,0,1,1\n0.02,s1.ch1,1,1,1\n";
  CHECK(found(begin + "0.03,s1.ch1,2,1,1\n0.05,s1.ch1,2,1,1\n").empty());
  CHECK(found(begin + "0.029,s1.ch1,2,1,1\n0.05,s1.ch1,2,1,1\n") == Found{"4 step-too-short"});
  // The last row of a table is a change too, where it changes something.
  CHECK(found(begin + "0.029,s1.ch1,2,1,1\n") == Found{"4 step-too-short"});
  // The row that ends a segment may come as early as it likes.
  CHECK(found(begin + "0.029,s1.ch1,1,1,1\n").empty());
}

TEST_CASE("rows of one instant come in the order of the bench") {
  SupplySpec supply;
  supply.channels = {{"ch1"}, {"ch2"}};
  const std::string first = "0,s1.ch1,0,1,1\n";
  const std::string second = "0,s1.ch2,0,1,1\n";
  CHECK(audited(kHeader + first + second, make_bench({supply})).found.empty());
  CHECK(audited(kHeader + second + first, make_bench({supply})).found == Found{"3 table-order"});
}

TEST_CASE("every channel has a row at the end of its segment") {
  SupplySpec supply;
  supply.channels = {{"ch1"}, {"ch2"}};
  const std::string rows = "0,s1.ch1,0,1,1\n0,s1.ch2,0,1,1\n1,s1.ch1,0,1,1\n";
  CHECK(audited(kHeader + rows, make_bench({supply})).found == Found{"3 table-order"});
  CHECK(audited(kHeader + rows + "1,s1.ch2,0,1,1\n", make_bench({supply})).found.empty());
}

TEST_CASE("power is held against the channel's envelope and the supply's budget") {
  SupplySpec supply;
  supply.channels = {{"ch1"}, {"ch2"}};
  Bench bench = make_bench({supply});
  bench.channels[0].limits.power = Placed<Watts>{Watts{33}, {}};
  bench.supplies[0].power = Placed<Watts>{Watts{66}, {}};
  const std::string fits = "0,s1.ch1,11,3,1\n0,s1.ch2,11,3,1\n";
  CHECK(audited(kHeader + fits, bench).found.empty());
  CHECK(audited(kHeader + "0,s1.ch1,11.01,3,1\n0,s1.ch2,11,3,0\n", bench).found == Found{"2 power-envelope"});
  CHECK(audited(kHeader + "0,s1.ch1,11,3,1\n0,s1.ch2,11.01,3,1\n", bench).found == Found{"3 total-power"});
}

// Voltage and limit of a `linear` channel run straight from row to row, so their product is a parabola.
TEST_CASE("power between the rows of a supply that runs straight is judged where the courses are") {
  SupplySpec supply;
  supply.interpolation = Interpolation::Linear;
  supply.channels = {{"ch1"}, {"ch2"}};
  Bench bench = make_bench({supply});
  bench.supplies[0].power = Placed<Watts>{Watts{20}, {}};
  const std::string start = kHeader + "0,s1.ch1,20,1,1\n0,s1.ch2,0,1,1\n";
  // Two ramps that cross: 20 W at any time, though the highest of both come to 40 W.
  CHECK(audited(start + "1,s1.ch1,0,1,1\n1,s1.ch2,20,1,1\n", bench).found.empty());
  // The same with rows at other times: 20 W - 20 W/s t and 20 W/s t until 0.5 s, then 10 W.
  CHECK(audited(start + "0.5,s1.ch2,10,1,1\n1,s1.ch1,0,1,1\n1,s1.ch2,10,1,1\n", bench).found.empty());
  CHECK(audited(start + "0.5,s1.ch2,10.01,1,1\n1,s1.ch1,0,1,1\n1,s1.ch2,10,1,1\n", bench).found ==
        Found{"3 total-power"});
  // Between the rows: 20 V s × 2 A (1 - s) has its top of 10 W at s = 1/2, on 15 W.
  const std::string between = kHeader + "0,s1.ch1,0,2,1\n0,s1.ch2,15,1,1\n1,s1.ch1,20,0.001,1\n1,s1.ch2,15,1,1\n";
  CHECK(audited(between, bench).found == Found{"3 total-power"});
  bench.channels[0].limits.power = Placed<Watts>{Watts{9}, {}};
  CHECK(audited(between, bench).found == Found{"2 power-envelope", "3 total-power"});
  // One that holds stays until its next row, and what is set at one instant counts together.
  bench.supplies[0].timing.interpolation = Interpolation::Hold;
  bench.channels[0].limits.power.reset();
  CHECK(audited(start + "1,s1.ch1,0,1,1\n1,s1.ch2,20,1,1\n2,s1.ch1,0,1,1\n2,s1.ch2,20,1,1\n", bench).found.empty());
}

TEST_CASE("what the stop sets first it sets at once, on an output that the run had on") {
  SupplySpec supply;
  supply.interpolation = Interpolation::Linear;
  Bench bench = make_bench({supply});
  bench.supplies[0].power = Placed<Watts>{Watts{20}, {}};
  const std::string header = "segment,time_s,channel,voltage_V,current_A,output\n";
  const auto stop = [&](const char* on) {
    return header + "1,0,s1.ch1,1,1," + on + "\n1,1,s1.ch1,1,1,0\nsafe,0,s1.ch1,,3,\nsafe,1,s1.ch1,";
  };
  CHECK(audited(stop("1") + "7,1,\nsafe,2,s1.ch1,7,3,0\n", bench).found == Found{"5 total-power"});
  CHECK(audited(stop("0") + "7,1,\nsafe,2,s1.ch1,7,3,0\n", bench).found.empty());
  // 7 V comes with 1 A. On the way from 0 V and 3 A it would have been 7.9 W.
  bench.supplies[0].power = Placed<Watts>{Watts{number("7.5 W")}, {}};
  CHECK(audited(stop("1") + "7,1,\nsafe,2,s1.ch1,7,1,0\n", bench).found.empty());
}

TEST_CASE("a channel without rows does not make those of others pile up") {
  SupplySpec supply;
  supply.interpolation = Interpolation::Linear;
  supply.minimum_step = "1 ms";
  supply.channels = {{"ch1"}, {"ch2"}};
  Bench bench = make_bench({supply});
  bench.supplies[0].power = Placed<Watts>{Watts{20}, {}};
  std::string rows = kHeader + "0,s1.ch1,10,1,1\n0,s1.ch2,5,1,1\n";
  for (int i = 1; i <= 30'000; ++i) {
    const int ms = i * 10;
    rows += std::to_string(ms / 1000) + "." + std::to_string(1000 + ms % 1000).substr(1) + ",s1.ch2,5,1,1\n";
  }
  CHECK(audited(rows + "300.01,s1.ch1,10,1,1\n300.01,s1.ch2,5,1,1\n", bench).found.empty());
  CHECK(audited(rows + "300.01,s1.ch1,10,1,1\n300.01,s1.ch2,11,1,1\n", bench).found == Found{"30003 total-power"});
}

TEST_CASE("the recorded ceiling of a rail bounds the sum of its channels in series, and each in parallel") {
  SupplySpec supply;
  supply.channels = {{"ch1"}, {"ch2"}};
  const auto held_to = [&](bool in_series, int volts) {
    audit::Record record;
    record.rails = {{"r", {"s1.ch1", "s1.ch2"}, in_series, Rational(volts)}};
    return audited(kHeader + "0,s1.ch1,10,1,1\n0,s1.ch2,10,1,1\n1,s1.ch1,10,1,0\n1,s1.ch2,10,1,0\n",
                   make_bench({supply}), audit::audit_csv, &record)
        .found;
  };
  CHECK(held_to(true, 20).empty());
  CHECK(held_to(true, 19) == Found{"3 above-ceiling"});
  CHECK(held_to(false, 10).empty());
  CHECK(held_to(false, 9) == Found{"3 above-ceiling"});
}

TEST_CASE("a recorded delay has to be one of the steps that the channel has") {
  Bench bench = make_bench({{}});
  ProtectionAbilities& able = bench.channels[0].protection;
  able.fuse_by = FuseBy::CurrentLimit;
  able.fuse_delay = Placed<SteppedRange<Seconds>>{{{Seconds{0}, Seconds{number("8 s")}}, Seconds{number("5 ms")}}, {}};
  const auto errors_of = [&](std::string_view delay) {
    audit::Record record;
    audit::RecordedChannel channel;
    channel.channel = "s1.ch1";
    channel.fuse = audit::RecordedFuse{number(delay), {}, {}};
    record.channels = {channel};
    FindingSink findings;
    audit::check_setup(record, bench, {}, findings);
    return findings.error_count();
  };
  CHECK(errors_of("15 ms") == 0);
  CHECK(errors_of("12.5 ms") == 1);
  CHECK(errors_of("8.005 s") == 1);
}

TEST_CASE("a flood of mistakes is bounded, and the rest counted") {
  std::string rows;
  for (int i = 0; i < 1000; ++i) rows += "0,x" + std::to_string(i) + ",0,1,0\n";
  const Audited answer = audited(kHeader + rows, make_bench({{}}));
  CHECK(answer.found.size() == audit::kMaxFindings);
  CHECK(answer.result.left_out == 1000 - audit::kMaxFindings);
  CHECK(answer.result.rows == 1000);
}

TEST_CASE("mistakes that are alike in row after row are one finding with their number") {
  std::string rows = "0,s1.ch1,0,1,0\n";
  for (int i = 1; i <= 1235; ++i) rows += std::to_string(i) + ".0005,s1.ch1,99,1,0\n";
  const Audited answer = audited(kHeader + rows, make_bench({{}}));
  CHECK(answer.found == Found{"3 off-grid", "3 voltage-range"});
  CHECK(answer.result.left_out == 0);
  REQUIRE(answer.messages.size() == 2);
  CHECK(answer.messages[0].ends_with("time grid of supply `s1`, and 1,234 more rows like it"));
  CHECK(answer.messages[1].starts_with("channel `s1.ch1` is set to 99 V, outside its range "));
  CHECK(answer.messages[1].ends_with(", and 1,234 more rows like it"));
  // One of a kind says nothing of others, and what is wrong with another channel is another mistake.
  const Audited two = audited(kHeader + "0,s1.ch1,99,1,0\n0,s2.ch1,99,1,0\n", make_bench({{}, {}}));
  CHECK(two.found == Found{"2 voltage-range", "3 voltage-range"});
  CHECK(two.messages[0].find("like it") == std::string::npos);
  // Also where the text breaks off.
  const Audited broken =
      audited(R"({"rows": "changes", "segments": [{"segment": "1", "rows": [)"
              R"({"time_s": 0, "channel": "s1.ch1", "voltage_V": 99, "current_A": 1, "output": true},])",
              make_bench({{}}), audit::audit_json);
  CHECK(broken.found == Found{"1 table-malformed", "1 voltage-range"});
}

TEST_CASE("supplies of different grids end a segment each on its own grid") {
  SupplySpec fine;
  fine.minimum_step = "1 ms";
  SupplySpec coarse;
  coarse.resolution = "5 ms";
  const Bench bench = make_bench({fine, coarse});
  const std::string start = kHeader + "0,s1.ch1,0,1,0\n0,s2.ch1,0,1,0\n";
  CHECK(audited(start + "2.798,s1.ch1,0,1,0\n2.8,s2.ch1,0,1,0\n", bench).found.empty());
  CHECK(audited(start + "2.79,s1.ch1,0,1,0\n2.8,s2.ch1,0,1,0\n", bench).found == Found{"4 table-order"});
}

TEST_CASE("rows of the stop may leave out what it does not set") {
  const std::string header = "segment,time_s,channel,voltage_V,current_A,output\n";
  const std::string run = "1,0,s1.ch1,1,1,1\n1,1,s1.ch1,1,1,0\n";
  CHECK(audited(header + run + "safe,0,s1.ch1,,,1\nsafe,0.02,s1.ch1,,,0\n", make_bench({{}})).found.empty());
}

// A last row that is up to a step off the end may be that of another grid; beyond that rows are missing.
TEST_CASE("what a segment of JSON is said to last is what its rows fill, to a step") {
  const auto lasting = [](const std::string& seconds) {
    const std::string rows = R"({"time_s": 0, "channel": "s1.ch1", "voltage_V": 1, "current_A": 1, "output": true},)"
                             R"({"time_s": 1, "channel": "s1.ch1", "voltage_V": 1, "current_A": 1, "output": false})";
    return audited(R"({"rows": "changes", "segments": [{"segment": "1", "rows": [)" + rows + R"(], "duration_s": )" +
                       seconds + R"(, "then": null}]})",
                   make_bench({{}}), audit::audit_json)
        .found;
  };
  CHECK(lasting("1").empty());
  CHECK(lasting("1.01").empty());
  CHECK(lasting("0.99").empty());
  CHECK(lasting("1.010000001") == Found{"1 table-order"});
  CHECK(lasting("0.989999999") == Found{"1 table-order"});
}

// A ceiling or a duration in quotes would not be held to, if it passed by.
TEST_CASE("a value that a table or its set-up holds is of the kind that build writes") {
  const auto with = [](const std::string& in_segment, const std::string& beside_segments) {
    const Audited answer = audited(
        R"({"rows": "changes", )" + beside_segments + R"("segments": [{)" + in_segment +
            R"("rows": [{"time_s": 0, "channel": "s1.ch1", "voltage_V": 1, "current_A": 1, "output": false}]}]})",
        make_bench({{}}), audit::audit_json);
    return answer.messages.empty() ? std::string() : answer.messages.front();
  };
  const std::string name = R"("segment": "1", )";
  CHECK(with(name, "").empty());
  CHECK(with(R"("segment": 1, )", "") == "`segment` is not a text");
  CHECK(with(name + R"("duration_s": "1", )", "") == "`duration_s` is not a number");
  CHECK(with(name + R"("duration_s": [1], )", "") == "`duration_s` is not a number");
  CHECK(with(name + R"("marks": {}, )", "") == "`marks` is not a list");
  CHECK(with(name + R"("measurements": null, )", "") == "`measurements` is not a list");
  CHECK(with(name + R"("then": true, )", "") == "`then` is not an object or null");
  const auto set_up = [&](const std::string& rail, const std::string& more = "") {
    return with(name, R"("setup": {"rails": [)" + rail + R"(], "channels": [{"channel": "s1.ch1")" + more + "}]}, ");
  };
  CHECK(set_up("", R"(, "sense": "local", "interpolation": "hold")").empty());
  CHECK(set_up("", R"(, "sense": "Local")") == "`sense` is neither `local` nor `remote`");
  CHECK(set_up("", R"(, "voltage_step_V": "0.01")") == "`voltage_step_V` is not a number");
  CHECK(set_up(R"({"rail": "core", "channels": ["s1.ch1"], "arrangement": "both"})") ==
        "`arrangement` is neither `series` nor `parallel`");
  CHECK(set_up(R"({"rail": "core", "channels": ["s1.ch1"], "arrangement": null, "ceiling_V": 3.6})").empty());
  CHECK(set_up(R"({"rail": "core", "ceiling_V": null})").empty());
  CHECK(set_up(R"({"rail": "core", "ceiling_V": "0.5"})") == "`ceiling_V` is not a number or null");
  CHECK(set_up(R"({"rail": "core", "ceiling_V": {"max": 0.5}})") == "`ceiling_V` is not a number or null");
  CHECK(set_up(R"({"rail": ["core"], "ceiling_V": 0.5})") == "`rail` is not a text");
  CHECK(set_up(R"({"rail": "core", "channels": "s1.ch1"})") == "`channels` is not a list");
  CHECK(set_up(R"({"rail": "core", "channels": [1]})") == "an entry of `channels` is not a text");
  CHECK(set_up(R"(["core", 0.5])") == "an entry of `rails` is not an object");
  CHECK(with(name, R"("setup": [], )") == "`setup` is not an object");
  CHECK(with(name, R"("origin": {"profile": {"name": "a.ramp", "sha256": 1}}, )") == "`sha256` is not a text");
}
