// Every key of a bench file, and every way to get one wrong. All benches here are invented.
#include <doctest/doctest.h>

#include <algorithm>

#include "compiler/bench/bench.h"
#include "tests/support/file_text.h"

namespace rampart {
namespace {

using test::with;

constexpr std::string_view kFull = R"(bench: Two small supplies
supplies:
  left:
    timing: {minimum_step: 10 ms, resolution: 1 ms, skew: 2 ms, on_delay: 0 ms .. 30 ms, interpolation: linear}
    table: {points: 100, repeats: 1000, channels: [ch1]}
    power: 80 W
    lines: [line1, line2]
    tracking: yes
    channels:
      ch1:
        voltage: {range: 0 V .. 24 V, resolution: 10 mV, accuracy: 0.1 % + 5 mV}
        current: {range: 0 A .. 2.5 A, resolution: 1 mA, accuracy: 0.2 %}
        power: 45 W
        slew: {up: 1 V/ms, down: 0.5 V/ms}
        output_capacitance: 100 uF
        sink: 200 mA
        thermal: {internal_supply: 28 V, resistance: 2 K/W, time_constant: 400 s, ambient: 25 degC, limit: 95 degC}
        sense: {remote: yes, headroom: 1 V}
        off_resistance: 100 kOhm
        protection:
          overvoltage: 0.5 V .. 26 V
          overvoltage_accuracy: 1 % + 50 mV
          fuse_by: own_current
          fuse_delay: 0 s .. 8 s step 5 ms
          fuse_current: 0 A .. 2.5 A step 10 mA
          overpower: 0 W .. 40 W
          overpower_delay: 0 s .. 1 s step 1 ms
      ch2: {like: ch1}
outputs:
  high: {series: [left.ch1, left.ch2]}
  strong: {parallel: [left.ch2, left.ch1]}
  main: left.ch2
links:
  own: {internal: [left], delay: 5 ms}
)";

constexpr std::string_view kSmall = R"(bench: b
supplies:
  one:
    timing: {minimum_step: 10 ms, resolution: 1 ms}
    channels:
      ch1:
        voltage: {range: 0 V .. 24 V, resolution: 10 mV}
        current: {range: 0 A .. 2.5 A, resolution: 1 mA}
)";

struct Outcome {
  std::optional<Bench> bench;
  std::vector<std::string> findings;
};

Outcome read(std::string_view text) {
  SourceSet sources;
  FindingSink sink;
  const FileId file = sources.add("b.yaml", std::string(text));
  Outcome outcome;
  outcome.bench = read_bench(sources, file, sink);
  outcome.findings = test::finding_lines(sources, sink);
  CHECK(test::broken_promise(sources, sink, outcome.bench.has_value()) == "");
  return outcome;
}

// The one finding of kSmall or kFull with a change.
std::string changed(std::string_view base, std::string_view from, std::string_view to) {
  const Outcome outcome = read(with(std::string(base), from, to));
  std::string lines;
  for (const std::string& line : outcome.findings) lines += (lines.empty() ? "" : "\n") + line;
  return lines;
}

Rational milli(std::int64_t count) {
  return Rational::fraction(count, 1000);
}

}  // namespace

TEST_CASE("bench: every key is read exactly") {
  const Outcome outcome = read(kFull);
  CHECK(outcome.findings.empty());
  REQUIRE(outcome.bench);
  const Bench& bench = *outcome.bench;
  CHECK(bench.title == "Two small supplies");
  REQUIRE(bench.supplies.size() == 1);
  const Supply& left = bench.supplies[0];
  CHECK(left.name == "left");
  CHECK(left.timing.minimum_step == std::chrono::milliseconds(10));
  CHECK(left.timing.resolution == std::chrono::milliseconds(1));
  CHECK(left.timing.skew == std::chrono::milliseconds(2));
  CHECK(left.timing.on_delay.low == Nanoseconds(0));
  CHECK(left.timing.on_delay.high == std::chrono::milliseconds(30));
  CHECK(left.timing.interpolation == Interpolation::Linear);
  REQUIRE(left.table);
  CHECK(left.table->points == 100);
  CHECK(left.table->repeats == 1000);
  CHECK(left.table->channels == std::vector<ChannelId>{ChannelId{0}});
  CHECK(left.power->value.si == Rational(80));
  CHECK(left.lines == std::vector<std::string>{"line1", "line2"});
  CHECK(left.tracking == true);
  REQUIRE(bench.channels.size() == 2);
  for (const Channel& channel : bench.channels) {
    CHECK(channel.limits.voltage.value.low.si == Rational(0));
    CHECK(channel.limits.voltage.value.high.si == Rational(24));
    CHECK(channel.limits.voltage_resolution.si == milli(10));
    CHECK(channel.limits.voltage_accuracy->fraction == milli(1));
    CHECK(channel.limits.voltage_accuracy->offset.si == milli(5));
    CHECK(channel.limits.current.value.high.si == Rational::fraction(5, 2));
    CHECK(channel.limits.current_resolution.si == milli(1));
    CHECK(channel.limits.current_accuracy->fraction == milli(2));
    CHECK(channel.limits.current_accuracy->offset.si == Rational(0));
    CHECK(channel.limits.power->value.si == Rational(45));
    CHECK(channel.slew->up.si == Rational(1000));
    CHECK(channel.slew->down.si == Rational(500));
    CHECK(channel.output_capacitance.si == Rational::fraction(1, 10'000));
    CHECK(channel.sink.si == milli(200));
    CHECK(channel.thermal->internal_supply.si == Rational(28));
    CHECK(channel.thermal->resistance == Rational(2));
    CHECK(channel.thermal->time_constant.si == Rational(400));
    // 0 degC is 273.15 K by the definition of the Celsius scale.
    CHECK(channel.thermal->ambient.si == Rational::fraction(29815, 100));
    CHECK(channel.thermal->limit.si == Rational::fraction(36815, 100));
    CHECK(channel.remote_sense->headroom.si == Rational(1));
    CHECK(channel.off_resistance->si == Rational(100'000));
    const ProtectionAbilities& protection = channel.protection;
    CHECK(protection.overvoltage->value.low.si == milli(500));
    CHECK(protection.overvoltage->value.high.si == Rational(26));
    CHECK(protection.overvoltage_accuracy->fraction == milli(10));
    CHECK(protection.fuse_by == FuseBy::OwnCurrent);
    CHECK(protection.fuse_delay->value.range.high.si == Rational(8));
    CHECK(protection.fuse_delay->value.step.si == milli(5));
    CHECK(protection.fuse_current->value.step.si == milli(10));
    CHECK(protection.overpower->value.high.si == Rational(40));
    CHECK(protection.overpower_delay->value.step.si == milli(1));
  }
  CHECK(bench.channels[1].name == "left.ch2");
  CHECK(bench.find_channel("left.ch2") == ChannelId{1});
  CHECK_FALSE(bench.find_channel("ch2"));
  REQUIRE(bench.combinations.size() == 2);
  CHECK(bench.combinations[0].arrangement == Arrangement::Series);
  CHECK(bench.combinations[1].arrangement == Arrangement::Parallel);
  CHECK(bench.combinations[1].members == std::vector<ChannelId>{ChannelId{1}, ChannelId{0}});
  CHECK(bench.find_output("strong") == Output(CombinationId{1}));
  CHECK(bench.find_output("main") == Output(ChannelId{1}));
  CHECK(bench.find_output("left.ch1") == Output(ChannelId{0}));
  CHECK_FALSE(bench.find_output("left"));
  CHECK(bench.output_names() == std::vector<std::string>{"high", "strong", "main", "left.ch1", "left.ch2"});
}

TEST_CASE("bench: what is not said is ideal or absent") {
  const Outcome outcome = read(kSmall);
  CHECK(outcome.findings.empty());
  REQUIRE(outcome.bench);
  const Supply& supply = outcome.bench->supplies[0];
  CHECK(supply.timing.skew == Nanoseconds(0));
  CHECK(supply.timing.on_delay.high == Nanoseconds(0));
  CHECK(supply.timing.interpolation == Interpolation::Hold);
  CHECK_FALSE(supply.table);
  CHECK_FALSE(supply.power);
  CHECK_FALSE(supply.tracking);
  const Channel& channel = outcome.bench->channels[0];
  CHECK_FALSE(channel.limits.voltage_accuracy);
  CHECK_FALSE(channel.slew);
  CHECK_FALSE(channel.thermal);
  CHECK_FALSE(channel.remote_sense);
  CHECK_FALSE(channel.off_resistance);
  CHECK_FALSE(channel.protection.overvoltage);
  CHECK_FALSE(channel.protection.fuse_by);
  CHECK(channel.sink.si == Rational(0));
}

TEST_CASE("bench: `like` copies a channel, in any order, and own keys win") {
  const std::string text = std::string(kSmall) + R"(      ch2: {like: ch3, sink: 1 A}
      ch3: {like: ch1, power: 5 W, current: {range: 0 A .. 1 A, resolution: 10 mA}}
)";
  const Outcome outcome = read(text);
  CHECK(outcome.findings.empty());
  REQUIRE(outcome.bench);
  const Channel& second = outcome.bench->channels[1];
  CHECK(second.name == "one.ch2");
  CHECK(second.limits.power->value.si == Rational(5));
  CHECK(second.limits.current.value.high.si == Rational(1));
  CHECK(second.limits.voltage.value.high.si == Rational(24));
  CHECK(second.sink.si == Rational(1));
  CHECK_FALSE(outcome.bench->channels[0].limits.power);
}

TEST_CASE("bench: `like` that leads nowhere") {
  const std::string text(kSmall);
  CHECK(read(text + "      ch2: {like: ch2}\n").findings ==
        std::vector<std::string>{
            "9:19 bad-value: `like` goes in a circle, from `ch2` back to `ch2` | write the keys of one of them out"});
  CHECK(read(text + "      ch2: {like: ch3}\n      ch3: {like: ch2}\n").findings ==
        std::vector<std::string>{
            "10:19 bad-value: `like` goes in a circle, from `ch3` back to `ch2` | write the keys of one of them out"});
  CHECK(read(text + "      ch2: {like: chi}\n").findings ==
        std::vector<std::string>{"9:19 unknown-name: there is no channel of this supply named `chi` | write `ch1`"});
  CHECK(read(text + "      ch2: {like: one.zero}\n").findings ==
        std::vector<std::string>{
            "9:19 unknown-name: there is no channel of this supply named `one.zero` | choose from `ch1`, `ch2`"});
}

TEST_CASE("bench: a mistake in a channel is told once, whoever is like it") {
  CHECK(changed(kFull, "slew: {up: 1 V/ms, down: 0.5 V/ms}", "slew: {up: 0 V/ms, down: 0.5 V/ms}") ==
        "14:20 bad-value: `up` is 0 V/ms, but must be above 0");
}

TEST_CASE("bench: unknown keys name the nearest known one") {
  CHECK(changed(kSmall, "voltage:", "voltag:") ==
        "7:9 unknown-key: channel `ch1` has no key `voltag` | write `voltage`");
  CHECK(changed(kSmall, "timing: {", "timing: {zzz: 1, ") ==
        "4:14 unknown-key: `timing` has no key `zzz` | its keys are `minimum_step`, `resolution`, `skew`, `on_delay`, "
        "`interpolation`");
  CHECK(changed(kFull, "fuse_delay:", "fuse_dlay:") ==
        "24:11 unknown-key: `protection` has no key `fuse_dlay` | write `fuse_delay`");
  CHECK(changed(kFull, "headroom", "Headroom") ==
        "18:30 unknown-key: `sense` has no key `Headroom` | write `headroom`");
  CHECK(changed(kFull, "outputs", "output") == "29:1 unknown-key: a bench file has no key `output` | write `outputs`");
}

TEST_CASE("bench: misspelt keys are told, whichever two they are, and nothing is made of what is missing") {
  CHECK(changed(kFull, "minimum_step: 10 ms, resolution", "minimum_stp: 10 ms, resolution") ==
        "4:14 unknown-key: `timing` has no key `minimum_stp` | write `minimum_step`");
  std::size_t tried = 0;
  for (const std::string& text : test::with_wrong_keys(std::string(kFull))) {
    if (!read(text).bench) ++tried;
  }
  CHECK(tried > 2000);
}

TEST_CASE("bench: missing keys are named at the map that lacks them") {
  CHECK(changed(kSmall, "minimum_step: 10 ms, ", "") == "4:5 bad-value: `timing` lacks the key `minimum_step`");
  CHECK(changed(kSmall, ", resolution: 10 mV", "") == "7:9 bad-value: `voltage` lacks the key `resolution`");
  CHECK(changed(kSmall, "range: 0 A .. 2.5 A, ", "") == "8:9 bad-value: `current` lacks the key `range`");
  CHECK(changed(kSmall, "bench: b\n", "") == "1:1 bad-value: a bench file lacks the key `bench`");
  CHECK(changed(kFull, ", down: 0.5 V/ms", "") == "14:9 bad-value: `slew` lacks the key `down`");
  CHECK(changed(kFull, "points: 100, ", "") == "5:5 bad-value: `table` lacks the key `points`");
  CHECK(changed(kFull, ", limit: 95 degC", "") == "17:9 bad-value: `thermal` lacks the key `limit`");
  CHECK(read("bench: x\nsupplies: {a: {}}\n").findings ==
        std::vector<std::string>{"2:12 bad-value: supply `a` lacks the keys `timing`, `channels`"});
  CHECK(changed(kSmall, ", resolution: 10 mV", ", resolution: 10 mV, tolerance: 1 %") ==
        "7:58 unknown-key: `voltage` has no key `tolerance` | how far a supply may be off is its accuracy: write it as "
        "in `accuracy: 0.05 % + 10 mV`");
  CHECK(read("bench: x\nsupplies: {}\n").findings ==
        std::vector<std::string>{"2:1 bad-value: `supplies` has no value"});
  CHECK(read("bench: x\nsupplies:\n").findings == std::vector<std::string>{"2:1 bad-value: `supplies` has no value"});
  CHECK(read("bench: x\nsupplies: yes\n").findings ==
        std::vector<std::string>{"2:11 bad-value: `supplies` is a text, but must be a map of keys"});
}

TEST_CASE("bench: a number without its unit, or with another's") {
  CHECK(changed(kSmall, "10 ms", "10") ==
        "4:28 missing-unit: `10` has no unit, but `minimum_step` is a time | add the unit, as in `10 ms`");
  CHECK(changed(kSmall, "0 V .. 24 V", "0 .. 24 V") ==
        "7:26 missing-unit: `0` has no unit, but `range` is a voltage | add the unit, as in `0 V`");
  CHECK(changed(kSmall, "0 V .. 24 V", "0 V .. 24") ==
        "7:33 missing-unit: `24` has no unit, but `range` is a voltage | add the unit, as in `24 V`");
  CHECK(changed(kSmall, "0 V .. 24 V", "0 V .. 24 A") ==
        "7:33 unit-mismatch: `24 A` is a current, but `range` must be a voltage | write it as in `5 V`");
  CHECK(changed(kSmall, "10 mV", "1 %") ==
        "7:51 unit-mismatch: `1 %` is a percentage, but `resolution` must be a voltage | write it as in `5 V`");
  CHECK(changed(kSmall, "10 mV", "'10 mA'") ==
        "7:52 unit-mismatch: `10 mA` is a current, but `resolution` must be a voltage | write it as in `5 V`");
  CHECK(changed(kFull, "points: 100", "points: 100 V") ==
        "5:21 unit-mismatch: `100 V` has a unit, but `points` is a plain number | write the number alone");
  CHECK(changed(kFull, "0.1 % + 5 mV", "0.1 % + 5 mA") ==
        "11:76 unit-mismatch: `5 mA` is a current, but `accuracy` must be a voltage | write it as in `5 V`");
  CHECK(changed(kFull, "25 degC", "25") ==
        "17:92 missing-unit: `25` has no unit, but `ambient` is a temperature | add the unit, as in `25 degC`");
  CHECK(changed(kFull, "2 K/W", "2 W/K") ==
        "17:54 unit-mismatch: `2 W/K` is a quantity in V·A·K^-1, but `resistance` must be a thermal resistance | write "
        "it as in `5 K/W`");
}

TEST_CASE("bench: texts that are no values") {
  CHECK(changed(kSmall, "10 mV", ".nan") ==
        "7:51 bad-value: `.nan` is not a voltage | write a number with its unit, as in `5 V`");
  CHECK(changed(kSmall, "10 mV", ".inf") ==
        "7:51 bad-value: `.inf` is not a voltage | write a number with its unit, as in `5 V`");
  CHECK(changed(kSmall, "10 mV", "1e-2 V") ==
        "7:51 bad-value: `1e-2 V` is not a voltage | write the number without an exponent, with a prefix at its unit");
  CHECK(changed(kSmall, "10 mV", "'0,01 V'") ==
        "7:52 bad-value: `0,01 V` is not a voltage | write a decimal point, not a comma: `0.01 V`");
  CHECK(read(std::string(kSmall) + "outputs:\n  big: {paralel: [s.ch1, s.ch1]}\n").findings.size() == 1);
  // Between braces the comma would begin another key.
  CHECK(changed(kSmall, "10 mV", "0,01 V") ==
        "7:51 bad-value: `0,01 V` has a decimal comma | write a decimal point, not a comma: `0.01 V`");
  CHECK(changed(kSmall, "10 mV", "10 mv") ==
        "7:51 bad-value: `10 mv` is not a voltage | write a number with its unit, as in `5 V`");
  CHECK(changed(kSmall, "10 mV", "''") ==
        "7:51 bad-value: `` is not a voltage | write a number with its unit, as in `5 V`");
  CHECK(changed(kSmall, "10 mV", "") == "7:39 bad-value: `resolution` has no value");
  CHECK(changed(kSmall, "10 mV", "[10 mV]") == "7:51 bad-value: `resolution` is a list, but must be one value");
  CHECK(changed(kSmall, "0 V .. 24 V", "24 V") ==
        "7:26 bad-value: `24 V` is not a voltage range | write both ends, as in `0 V .. 5 V`");
  CHECK(changed(kFull, "0.1 % + 5 mV", "5 mV + 5 mV") ==
        "11:68 bad-value: `5 mV + 5 mV` is not an accuracy | write one percentage and one offset, as in `0.1 % + 5 V`");
  CHECK(changed(kFull, "repeats: 1000", "repeats: 010") ==
        "5:35 bad-value: `010` is not a whole number | write it without the leading 0");
  CHECK(changed(kFull, "tracking: yes", "tracking: maybe") ==
        "8:15 bad-value: `maybe` is not yes or no | write yes or no");
  CHECK(changed(kFull, "interpolation: linear", "interpolation: liner") ==
        "4:105 bad-value: `liner` is not a value of `interpolation` | write `linear`");
  CHECK(changed(kFull, "fuse_by: own_current", "fuse_by: x") ==
        "23:20 bad-value: `x` is not a value of `fuse_by` | choose from `current_limit`, `own_current`");
  CHECK(changed(kSmall, "bench: b", "bench: ' '") ==
        "1:8 bad-value: ` ` is not a title | write a few words on one line");
  CHECK(changed(kSmall, "bench: b", "bench: \"a\\tb\"") ==
        "1:8 bad-value: `a b` is not a title | write a few words on one line");
  // What no file may hold is not let in by an escape either.
  for (const std::string escape : {"\\0", "\\e", "\\u202E", "\\x9B"}) {
    CAPTURE(escape);
    CHECK(changed(kSmall, "bench: b", "bench: \"a" + escape + "b\"") ==
          "1:8 syntax: control characters are not allowed in this file | remove it");
  }
  CHECK(changed(kSmall, "10 mV", "100000000000000000000000000000000000000000 V") ==
        "7:51 number-too-large: the number in `100000000000000000000000000000000000000000 V` is too large or has too "
        "many digits");
}

TEST_CASE("bench: values that cannot be") {
  CHECK(changed(kSmall, "0 V .. 24 V", "24 V .. 0 V") ==
        "7:26 bad-value: the range of `range` ends at 0 V, below its start 24 V | write the lower end first");
  CHECK(changed(kSmall, "0 V .. 24 V", "-5 V .. 24 V") == "7:26 bad-value: `range` is -5 V, but must be 0 or more");
  CHECK(changed(kSmall, "10 mV", "0 mV") == "7:51 bad-value: `resolution` is 0 mV, but must be above 0");
  CHECK(changed(kSmall, "10 mV", "33 V") ==
        "7:51 bad-value: `resolution` is 33 V, but must be no larger than the range");
  CHECK(read(with(std::string(kSmall), "10 mV", "24 V")).bench);
  CHECK(changed(kSmall, "10 mV", "0.0000000001 V") ==
        "7:51 bad-value: `resolution` is 100 pV, but must be a number of no more than 9 decimals | round it to 1 nV");
  CHECK(read(with(std::string(kSmall), "10 mV", "0.000000001 V")).bench);
  CHECK(changed(with(std::string(kSmall), "24 V", "1001 V"), "10 mV", "0.000000001 V") ==
        "7:53 bad-value: `resolution` is 1 nV, but must be no finer than a millionth of a millionth of the range");
  CHECK(changed(kSmall, "minimum_step: 10 ms", "minimum_step: 10.5 ms") ==
        "4:28 bad-value: `minimum_step` is 10.5 ms, but must be a whole multiple of `resolution` 1 ms");
  CHECK(changed(kSmall, "minimum_step: 10 ms", "minimum_step: 0 ms") ==
        "4:28 bad-value: `minimum_step` is 0 ms, but must be above 0");
  CHECK(changed(kSmall, "resolution: 1 ms", "resolution: -1 ms") ==
        "4:47 bad-value: `resolution` is -1 ms, but must be above 0");
  CHECK(changed(kSmall, "resolution: 1 ms", "resolution: 0.5 ns") ==
        "4:47 bad-value: `resolution` is 500 ps, but must be a whole number of nanoseconds");
  CHECK(changed(kSmall, "minimum_step: 10 ms", "minimum_step: 200000 d") ==
        "4:28 bad-value: `minimum_step` is 4800000 h, but must be below 292 years");
  CHECK(changed(kFull, "skew: 2 ms", "skew: -2 ms") == "4:59 bad-value: `skew` is -2 ms, but must be 0 or more");
  CHECK(changed(kFull, "0 ms .. 30 ms", "0 ms .. 0.1 ns") ==
        "4:75 bad-value: `on_delay` is 100 ps, but must be a whole number of nanoseconds");
  CHECK(changed(kFull, "0 ms .. 30 ms", "0 ms .. 61 min") ==
        "4:75 bad-value: `on_delay` is 1 h 1 min, but must be at most 1 h");
  CHECK(changed(kFull, "power: 80 W", "power: -80 W") == "6:12 bad-value: `power` is -80 W, but must be above 0");
  CHECK(changed(kFull, "power: 45 W", "power: 0 W") == "13:16 bad-value: `power` is 0 W, but must be above 0");
  CHECK(changed(kFull, "0.1 % + 5 mV", "-0.1 % + 5 mV") ==
        "11:68 bad-value: `accuracy` is -0.1 %, but must be 0 or more");
  CHECK(changed(kFull, "0.1 % + 5 mV", "100 % + 5 mV") ==
        "11:68 bad-value: `accuracy` is 100 %, but must be below 100 %");
  CHECK(changed(kFull, "sink: 200 mA", "sink: -1 A") == "16:15 bad-value: `sink` is -1 A, but must be 0 or more");
  CHECK(changed(kFull, "100 uF", "-100 uF") ==
        "15:29 bad-value: `output_capacitance` is -100 uF, but must be 0 or more");
  CHECK(changed(kFull, "100 kOhm", "0 Ohm") == "19:25 bad-value: `off_resistance` is 0 Ohm, but must be above 0");
  CHECK(changed(kFull, "step 5 ms", "step 0 ms") ==
        "24:39 bad-value: `step` is 0 ms, but must be above 0 and not wider than the range");
  CHECK(changed(kFull, "step 5 ms", "step 11 s") ==
        "24:39 bad-value: `step` is 11 s, but must be above 0 and not wider than the range");
  for (const char* count : {"10.0", "+10"}) {
    CHECK(changed(kFull, "points: 100", std::string("points: ") + count).ends_with("| write its digits alone"));
  }
  CHECK(changed(kFull, "points: 100", "points: 0") ==
        "5:21 bad-value: `points` is 0, but must be a whole number from 1 to 1000000000");
  CHECK(changed(kFull, "points: 100", "points: 1.5") ==
        "5:21 bad-value: `points` is 1.5, but must be a whole number from 1 to 1000000000");
  CHECK(changed(kFull, "power: 80 W", "power: 80 W +- 5 %") ==
        "6:12 bad-value: `power` cannot have a tolerance | write the value alone");
}

TEST_CASE("bench: values that do not fit together") {
  CHECK(changed(kFull, "limit: 95 degC", "limit: 20 degC") ==
        "17:108 bad-value: `limit` is 20 degC, but `ambient` is 25 degC | write a limit above the ambient temperature");
  CHECK(changed(with(std::string(kFull), "ch2: {like: ch1}", "ch2: {like: ch1, sense: {remote: no}}"),
                "internal_supply: 28 V", "internal_supply: 40 V")
            .empty());
  // Said once, however many channels are like this one.
  const std::string too_low = changed(kFull, "internal_supply: 28 V", "internal_supply: 20 V");
  CHECK(too_low.starts_with("17:9 bad-value: `internal_supply` is 20 V, but `voltage` is up to 24 V"));
  CHECK(too_low.find('\n') == std::string::npos);
  CHECK(changed(kFull, "sense: {remote: yes", "sense: {remote: no") ==
        "18:29 bad-value: `headroom` is given, but `remote` is no | remove `headroom`");
  CHECK(changed(kFull, "fuse_by: own_current", "fuse_by: current_limit") ==
        "25:11 bad-value: `fuse_current` is given, but `fuse_by` is current_limit | write `fuse_by: own_current`, or "
        "remove `fuse_current`");
  CHECK(changed(kFull, "          fuse_current: 0 A .. 2.5 A step 10 mA\n", "") ==
        "23:20 bad-value: `protection` has `fuse_by: own_current` without `fuse_current` | add the currents that can "
        "be set, as in `fuse_current: 0 A .. 2.5 A step 10 mA`");
  CHECK(changed(kFull, "          overpower: 0 W .. 40 W\n", "") ==
        "26:11 bad-value: `protection` has `overpower_delay` without `overpower` | add `overpower`, or remove "
        "`overpower_delay`");
  CHECK(changed(kFull, "          overvoltage: 0.5 V .. 26 V\n", "") ==
        "21:11 bad-value: `protection` has `overvoltage_accuracy` without `overvoltage` | add `overvoltage`, or remove "
        "`overvoltage_accuracy`");
}

TEST_CASE("bench: names and members") {
  CHECK(changed(kFull, "[line1, line2]", "[line1, line1]") ==
        "7:20 duplicate-name: `line1` is listed twice (7:13 first listed here) | list each line once");
  CHECK(
      changed(kFull, "[line1, line2]", "[line1, 2nd line]") ==
      "7:20 bad-value: `2nd line` cannot be a name | use up to 64 letters a to z, digits and `_`, and no digit first");
  CHECK(changed(kFull, "[line1, line2]", "[line1, [x]]") == "7:20 bad-value: `this part` is not the name of a line");
  CHECK(changed(kFull, "[line1, line2]", "line1") == "7:12 bad-value: `lines` is a text, but must be a list");
  CHECK(changed(kFull, "channels: [ch1]", "channels: [ch7]") ==
        "5:52 unknown-name: there is no channel named `ch7` | write `ch1`");
  CHECK(changed(kFull, "channels: [ch1]", "channels: [ch1, ch1]") ==
        "5:57 channel-used-twice: `ch1` is used twice in `table` (5:52 first used here) | name each channel once");
  CHECK(
      changed(kFull, "[left.ch1, left.ch2]", "[left.ch1, left.ch1]") ==
      "30:29 channel-used-twice: `left.ch1` is used twice in `high` (30:19 first used here) | name each channel once");
  CHECK(changed(kFull, "[left.ch1, left.ch2]", "[left.ch1, right.ch2]") ==
        "30:29 unknown-name: there is no channel named `right.ch2` | choose from `left.ch1`, `left.ch2`");
  CHECK(changed(kFull, "[left.ch1, left.ch2]", "[left.ch1, lft.ch2]") ==
        "30:29 unknown-name: there is no channel named `lft.ch2` | write `left.ch2`");
  CHECK(changed(kFull, "[left.ch1, left.ch2]", "[left.ch1]") ==
        "30:10 bad-value: `series` is a list of 1, but must be a list of two channels or more | name a single "
        "channel without `series`: `high: left.ch1`");
  CHECK(changed(kFull, "high: {series: [left.ch1, left.ch2]}", "high: {}") ==
        "30:3 bad-value: `high` is neither, but must be either `series` or `parallel`");
  CHECK(changed(kFull, "high: {series: [left.ch1, left.ch2]}", "high: {series: [], parallel: []}") ==
        "30:3 bad-value: `high` is both, but must be either `series` or `parallel`");
  CHECK(changed(kFull, "main: left.ch2", "main: left.ch3") ==
        "32:9 unknown-name: there is no channel named `left.ch3` | write `left.ch1`");
  // One name leads to a channel, not to another name.
  CHECK(changed(kFull, "main: left.ch2", "main: strong") ==
        "32:9 unknown-name: there is no channel named `strong` | choose from `left.ch1`, `left.ch2`");
  CHECK(
      changed(kFull, "main: left.ch2", "main: [left.ch2]") ==
      "32:9 bad-value: `main` is a list, but must be a channel or a combination | name one channel, or join several by "
      "`series` or `parallel`");
  CHECK(changed(kFull, "main: left.ch2", "main:") ==
        "32:3 bad-value: `main` has no value | name one channel, or join several by `series` or `parallel`");
  CHECK(changed(kFull, "main: left.ch2", "left: left.ch2") ==
        "32:3 duplicate-name: output `left` has the same name as a supply (3:3 first listed here) | name the output "
        "after its purpose in profiles");
  CHECK(
      changed(kFull, "high: {", "ch2: {") ==
      "30:3 duplicate-name: output `ch2` has the same name as a channel of `left` (28:7 first listed here) | name the "
      "output after its purpose in profiles");
  CHECK(changed(kFull, "main: left.ch2", "high: left.ch2") ==
        "32:3 duplicate-key: the key `high` is given twice (30:3 first given here) | keep one of the two");
  CHECK(changed(kSmall, "one:", "one.two:") ==
        "3:3 bad-value: `one.two` cannot be a name | use up to 64 letters a to z, digits and `_`, and no digit first");
  CHECK(changed(kSmall, "ch1:", "1:") ==
        "6:7 bad-value: `1` cannot be a name | use up to 64 letters a to z, digits and `_`, and no digit first");
}

TEST_CASE("bench: duplicate keys show both places") {
  CHECK(changed(kSmall, "resolution: 10 mV", "resolution: 10 mV, resolution: 5 mV") ==
        "7:58 duplicate-key: the key `resolution` is given twice (7:39 first given here) | keep one of the two");
  CHECK(changed(kSmall, "supplies:", "bench: c\nsupplies:") ==
        "2:1 duplicate-key: the key `bench` is given twice (1:1 first given here) | keep one of the two");
}

TEST_CASE("bench: columns count characters, also after wide ones and a byte-order mark") {
  CHECK(changed(kSmall, "bench: b", "bench: µΩ") == "");
  CHECK(changed(kSmall, "10 mV", "10 µA") ==
        "7:51 unit-mismatch: `10 µA` is a current, but `resolution` must be a voltage | write it as in `5 V`");
  // The second key stands one column further left than bytes would say.
  CHECK(changed(kSmall, "range: 0 V .. 24 V, ", "range: 0 V .. 24000000 µV, range: 1 V .. 2 V, ") ==
        "7:46 duplicate-key: the key `range` is given twice (7:19 first given here) | keep one of the two");
  CHECK(read("\xEF\xBB\xBF" + std::string(kSmall)).bench);
  CHECK(changed(with(std::string(kSmall), "bench", "\uFEFFbench"), "10 ms", "10").starts_with("4:28 missing-unit"));
  std::string lines(kSmall);
  for (std::size_t at = 0; (at = lines.find('\n', at)) != std::string::npos; at += 2) lines.replace(at, 1, "\r\n");
  CHECK(read(lines).bench);
  CHECK(changed(lines, "10 ms", "10").starts_with("4:28 missing-unit"));
}

TEST_CASE("bench: files that are no benches") {
  CHECK(read("").findings == std::vector<std::string>{"1:1 syntax: this file is empty"});
  CHECK(read("# nothing\n").findings == std::vector<std::string>{"1:1 syntax: this file is empty"});
  CHECK(read("---\n").findings == std::vector<std::string>{"1:1 syntax: this file is empty"});
  CHECK(read("text\n").findings ==
        std::vector<std::string>{"1:1 syntax: this file has no keys | write `key: value` lines"});
  CHECK(read("- a\n").findings ==
        std::vector<std::string>{"1:1 syntax: this file has no keys | write `key: value` lines"});
  CHECK(read("load: x\nrails: {}\n").findings ==
        std::vector<std::string>{"1:1 bad-value: this is a load file, but a bench file is needed | a bench file "
                                 "begins with `bench:` and a title"});
  CHECK(read(std::string(kSmall) + "---\nbench: b\n").findings ==
        std::vector<std::string>{
            "9:1 syntax: a second document begins here | put the second document in a file of its own"});
  CHECK(read("bench: x\nsupplies: {a: [}\n")
            .findings.at(0)
            .starts_with("2:16 syntax: this is not valid YAML: illegal flow end"));
  CHECK(read("bench: x\nsupplies:\n\ta: 1\n").findings ==
        std::vector<std::string>{"3:1 syntax: this line is indented with a tab | indent with blanks, not with tabs"});
  CHECK(read("bench x\nsupplies: {}\n").findings ==
        std::vector<std::string>{"1:1 syntax: this line has no `:` after its key | write `bench: x`"});
  CHECK(
      read("bench: 'a\nsupplies: {}\n").findings ==
      std::vector<std::string>{"1:8 syntax: this is not valid YAML: end of quoted text not found | close the quotes"});
  CHECK(read("bench: a: b\n").findings.at(0).starts_with("1:9 syntax: this is not valid YAML: illegal map value"));
  CHECK(read("bench: {[a]: b}\n").findings ==
        std::vector<std::string>{"1:9 syntax: a key must be a text | write `key: value`"});
}

TEST_CASE("bench: hostile files end in a finding") {
  CHECK(read("bench: \xFF\n").findings ==
        std::vector<std::string>{"1:8 syntax: this byte is not valid UTF-8 | save the file as UTF-8"});
  // Overlong, surrogate, and beyond U+10FFFF: ill-formed by table 3-7 of the Unicode Standard.
  for (const std::string_view bytes : {"\xC0\xAF", "\xED\xA0\x80", "\xF4\x90\x80\x80", "\xE2\x82", "\x80"}) {
    CHECK(read("a: " + std::string(bytes)).findings.at(0).starts_with("1:4 syntax: this byte is not valid UTF-8"));
  }
  CHECK(read(std::string("bench: a\0b\n", 11)).findings ==
        std::vector<std::string>{"1:9 syntax: control characters are not allowed in this file | remove it"});
  CHECK(read("bench: a\u202Eb\n").findings ==
        std::vector<std::string>{"1:9 syntax: control characters are not allowed in this file | remove it"});
  CHECK(read("bench: &x a\nsupplies: *x\n").findings.at(0).starts_with("1:8 syntax: anchors and aliases"));
  CHECK(read("bench: !!int 3\n").findings.at(0).starts_with("1:8 syntax: tags are not allowed"));
  std::string bomb = "a: &a [x, x]\n";
  for (char c = 'b'; c < 'z'; ++c) {
    bomb += std::string(1, c) + ": &" + c + " [*" + static_cast<char>(c - 1) + ", *" + static_cast<char>(c - 1) + "]\n";
  }
  CHECK(read(bomb).findings.at(0).starts_with("1:4 syntax: anchors and aliases"));
  for (const std::string_view deep : {"[", "{a: ", "- ", "? "}) {
    std::string text;
    for (int i = 0; i < 20'000; ++i) text += deep;
    const std::vector<std::string> findings = read(text).findings;
    REQUIRE(findings.size() == 1);
    CHECK(findings[0].ends_with(" too-deep: this is nested deeper than 16 levels"));
  }
  CHECK(read("bench: " + std::string(1'000'000, 'x')).findings ==
        std::vector<std::string>{"1:8 too-large: this text is longer than 4096 bytes"});
  CHECK(read(std::string(2'000'000, ' ')).findings ==
        std::vector<std::string>{"1:1 too-large: this file is larger than 1024 KiB"});
  std::string many = "bench: [";
  for (int i = 0; i < 150'000; ++i) many += "a, ";
  CHECK(read(many + "]").findings.at(0).find("too-large: this file has more than 100000 values") != std::string::npos);
  std::string supplies = "bench: x\nsupplies:\n";
  for (int i = 0; i < 65; ++i) supplies += "  s" + std::to_string(i) + ": {}\n";
  CHECK(read(supplies).findings == std::vector<std::string>{"67:3 too-large: `supplies` has 65 parts, more than 64"});
}

TEST_CASE("bench: damaged files give findings with places inside the text") {
  for (std::uint32_t number = 0; number < 4000; ++number) {
    CAPTURE(number);
    SourceSet sources;
    FindingSink sink;
    const FileId file = sources.add("b.yaml", test::damaged(std::string(kFull), number));
    const bool was_read = read_bench(sources, file, sink).has_value();
    REQUIRE(test::broken_promise(sources, sink, was_read) == "");
  }
}

TEST_CASE("bench: links of supplies") {
  const Bench bench = *read(kFull).bench;
  REQUIRE(bench.links.size() == 1);
  CHECK(bench.links[0].name == "own");
  CHECK(bench.links[0].by == LinkedBy::Internal);
  CHECK(bench.links[0].supplies == std::vector<SupplyId>{SupplyId{0}});
  CHECK(bench.links[0].delay == std::chrono::milliseconds(5));
  const std::string_view own = "own: {internal: [left], delay: 5 ms}";
  const auto link = [&](std::string_view text) { return changed(kFull, own, text); };
  CHECK(link("own: {internal: [left]}").find("link `own` lacks the key `delay`") != std::string::npos);
  CHECK(link("own: {delay: 5 ms}").find("`own` is neither, but must be either `internal` or `wired`") !=
        std::string::npos);
  CHECK(link("own: {internal: [left], wired: [left], delay: 5 ms}").find("`own` is both") != std::string::npos);
  CHECK(link("own: {wired: [left], delay: 5 ms}")
            .find("`wired` is a list of 1, but must be a list of two supplies or more") != std::string::npos);
  CHECK(link("own: {internal: [], delay: 5 ms}").find("a list of one supply or more") != std::string::npos);
  CHECK(link("own: {internal: [left, lift], delay: 5 ms}").find("there is no supply named `lift`") !=
        std::string::npos);
  CHECK(link("own: {internal: [left, left], delay: 5 ms}").find("`left` is listed twice") != std::string::npos);
  CHECK(link("own: {internal: [left], delay: 11 s}").find("`delay` is 11 s, but must be at most 10 s") !=
        std::string::npos);
  CHECK(link("own: {internal: [left], delay: 5 ms}\n  again: {internal: [left], delay: 6 ms}")
            .find("`left` is listed twice") != std::string::npos);
}

}  // namespace rampart
