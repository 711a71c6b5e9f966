#include <doctest/doctest.h>
#include <rapidcheck.h>

#include <chrono>
#include <cmath>

#include "tests/support/judged.h"
#include "tests/support/near.h"

// The margins follow from the equations in docs/rules.md and are worked by hand beside each case.

using namespace rampart;
using namespace rampart::test;

namespace {

rampart::test::Near about(double value) {
  return relative(value, 1e-12);
}

// Accuracy 1 % + 10 mV, skew 1 ms, outputs that switch on 2 ms to 20 ms late.
Bench vague_channels() {
  Bench bench = three_channels();
  for (Channel& channel : bench.channels) {
    channel.limits.voltage_accuracy = Accuracy<Volts>{Rational::fraction(1, 100), Volts{number("10 mV")}};
  }
  bench.supplies[0].timing.skew = time("1 ms");
  bench.supplies[0].timing.on_delay = {time("2 ms"), time("20 ms")};
  return bench;
}

}  // namespace

TEST_CASE("a rule that is never called for is not exercised, and holds") {
  const Judged judged(R"(
rule "premise" always a <= 1 V while b >= 1 V
rule "order" a >= 1 V before b >= 1 V
rule "answer" a >= 1 V within 1 ms after b >= 1 V
rule "rise" b rises from 0.5 V to 1 V
run { on a; step a to 2 V; dwell 1 s; off a }
)");
  for (const char* name : {"premise", "order", "answer", "rise"}) {
    CAPTURE(name);
    CHECK(judged[name].holds);
    CHECK_FALSE(judged[name].exercised);
    CHECK_FALSE(judged[name].margin);
  }
  // b stays at 0 V: 1 V short of every premise, and 0.5 V of the level from which it would rise.
  for (const char* name : {"premise", "order", "answer"}) {
    CAPTURE(name);
    REQUIRE(judged[name].nearest.size() == 2);
    CHECK(judged[name].nearest[1] == about(-1));
  }
  CHECK(judged["rise"].nearest[0] == about(-0.5));
  CHECK_FALSE(judged["order"].nearest[0]);
}

TEST_CASE("an absolute value keeps a sum of rails to both sides") {
  const Judged judged(R"(
rule "near" always abs(a - b) <= 1.25 V
rule "joined" always a - b <= 1.25 V and b - a <= 1.25 V
rule "not far" always not abs(a - b) > 1.25 V
rule "apart" always abs(a - b) >= 0.5 V while c >= 1 V
rule "several" always 2 * abs(a - b) + abs(b) <= 5 V
rule "less" always abs(b) - abs(a - b) >= -0.2 V while c >= 1 V
run {
  on a, b, c
  step a to 2 V, b to 1 V
  dwell 1 s
  step c to 1 V
  dwell 1 s
  step a to 0 V, b to 1.1 V
  dwell 1 s
  step c to 0 V
  dwell 1 s
}
)");
  // a - b is 0 V, then 1 V, then -1.1 V, and on the way there, a straight line of 1 ms, 0 V while c is at 1 V.
  CHECK(judged["near"].margin == about(1.25 - 1.1));
  CHECK(judged["near"].time_s == about(2.001));
  CHECK(judged["joined"].margin == about(1.25 - 1.1));
  CHECK(judged["not far"].margin == about(1.25 - 1.1));
  CHECK(judged["apart"].margin == about(0 - 0.5));
  CHECK(judged["several"].margin == about(5 - (2 * 1.1 + 1.1)));
  CHECK(judged["less"].margin == about(0.2));
}

// A course worked by hand: a - b rises to 1 V, falls straight through 0 V to -1 V, and the rule asks for 0.4 V.
TEST_CASE("a sum that passes through 0 V breaks the distance from it there") {
  Bench straight = three_channels();
  straight.supplies[0].timing.interpolation = Interpolation::Linear;
  const Judged judged(R"(
rule "apart" always abs(a - b) >= 0.4 V while c >= 1 V
run {
  on a, b, c
  ramp a to 2 V, b to 1 V over 1 s
  ramp c to 1 V over 1 s
  ramp a to 0 V over 1 s
}
)",
                      straight);
  CHECK(judged["apart"].margin == about(-0.4));
  CHECK(judged["apart"].time_s == about(2.5));
}

TEST_CASE("an output that is off counts as 0 V, and switching as a jump") {
  const Judged judged(R"(
rule "low while off" always a <= 0.5 V while b >= 1 V
rule "down first" always a >= 2 V while b >= 1 V
rule "off at once" a <= 0 V within 0 s after b <= 0 V
rule "no jump up" always slew(a) <= 10 V/s
rule "no jump down" always slew(c) >= -10 V/s
run {
  step a to 3 V
  on b; step b to 1 V
  dwell 1 s
  on a
  dwell 1 s
  off a, b
  on c
  ramp c to 5 V over 1 s
}
)");
  // a is at 3 V while b is on: 2.5 V too much. Before that it is at 0 V: 2 V too little.
  CHECK(judged["low while off"].margin == about(-2.5));
  CHECK(judged["low while off"].time_s == about(1));
  CHECK(judged.place(judged["low while off"]) == "11:3");
  CHECK(judged["down first"].margin == about(-2));
  CHECK(judged["down first"].time_s == 0);
  // Both are off from the same instant, and at first neither is on.
  CHECK(judged["off at once"].holds);
  CHECK(judged["off at once"].margin == about(0));
  // A jump has no slew that could be measured.
  CHECK_FALSE(judged["no jump up"].holds);
  CHECK_FALSE(judged["no jump up"].margin);
  CHECK(judged["no jump up"].time_s == about(1));
  CHECK(judged["no jump down"].holds);
  // c only rises: its slew is least while it stands still.
  CHECK(judged["no jump down"].margin == about(10));
}

TEST_CASE("`and` takes the smaller distance, `or` the greater, `not` the negative") {
  // a goes from 0 V to 4 V, b stands at 1 V: a - 1 V and 3 V - a are equal at 2 V.
  const Judged judged(R"(
rule "both" always a >= -1 V and a <= 4.5 V
rule "either" always a >= 1 V or a <= 3 V
rule "not" always not a > 5 V
rule "neither" always not (a > 5 V or b > 3 V)
run {
  on a, b; step b to 1 V
  ramp a to 4 V over 1 s
}
)");
  CHECK(judged["both"].margin == about(0.5));
  CHECK(judged["both"].time_s == about(1));
  CHECK(judged["either"].margin == about(1));
  CHECK(judged["either"].time_s == about(0.5));
  CHECK(judged["not"].margin == about(1));
  CHECK(judged["neither"].margin == about(1));
}

TEST_CASE("`before` looks at the stretch in which the first condition holds at the time of the second") {
  const std::string run = R"(
run {
  on a, b
  step a to 2 V
  dwell 100 ms
  step a to 0 V
  dwell 10 ms
  step a to 2 V
  dwell 30 ms
  step b to 1 V
  dwell 1 s
  step a to 0 V
}
)";
  // It broke off at 100 ms and holds again since 110 ms; b comes at 140 ms.
  const Judged early("rule \"r\" a >= 1 V before b >= 1 V by 20 ms" + run);
  CHECK(early["r"].margin == about(0.010));
  // a comes at 0 s, b 140 ms later; and never. A jump takes 1 ms: a is at 1.5 V of 2 V after 0.75 ms of it, b at the
  // end.
  const Judged late("rule \"r\" b >= 1 V before a >= 1 V and a >= 1.5 V" + run);
  CHECK(late["r"].nominal == about(-0.140));
  CHECK(late["r"].margin == about(-0.140 - 0.001));
  const Judged never("rule \"r\" a >= 3 V before b >= 1 V" + run);
  CHECK_FALSE(never["r"].holds);
  CHECK_FALSE(never["r"].margin);
  // True from the start counts as becoming true at the start.
  const Judged from_start("rule \"r\" b <= 0.5 V before a >= 1 V" + run);
  CHECK(from_start["r"].holds);
  CHECK(from_start["r"].margin == about(0));
}

TEST_CASE("`within` judges each call, and leaves out those that the run is too short for") {
  const std::string rule = "rule \"r\" a >= 1 V within 50 ms after b >= 1 V\n";
  // 20 ms and 45 ms after the call: 5 ms are left. The third call comes 30 ms before the end.
  const Judged twice(rule + R"(run {
  on a, b
  step b to 1 V
  dwell 20 ms
  step a to 1 V
  dwell 100 ms
  step a to 0 V, b to 0 V
  dwell 100 ms
  step b to 1 V
  dwell 45 ms
  step a to 1 V
  dwell 100 ms
  step a to 0 V, b to 0 V
  dwell 100 ms
  step b to 1 V
  dwell 30 ms
})");
  CHECK(twice["r"].margin == about(0.005));
  CHECK(twice["r"].time_s == about(0.020 + 0.1 + 0.1 + 0.045));
  // Not answered until the end, however long that takes: no number of seconds, and the place is the call.
  for (const std::string rest : {"80 ms", "10 s"}) {
    const Judged unanswered(rule + "run { on b; dwell 20 ms; step b to 1 V; dwell " + rest + " }");
    CHECK_FALSE(unanswered["r"].holds);
    CHECK_FALSE(unanswered["r"].margin.has_value());
    CHECK(unanswered["r"].time_s == about(0.020));
  }
  const Judged answered_before(rule + "run { on a, b; step a to 1 V; dwell 1 s; step b to 1 V; dwell 1 s }");
  CHECK(answered_before["r"].margin == about(0.050));
}

TEST_CASE("an answer has to come in time for the first call that is open") {
  const Judged judged(R"(
rule "answer" a >= 1 V within 25 ms after b >= 1 V
run {
  on a, b
  step b to 2 V; dwell 10 ms
  step b to 0 V; dwell 10 ms
  step b to 2 V; dwell 10 ms
  step a to 2 V; dwell 100 ms
  off a, b
})");
  // Called at 0 s and at 20 ms, answered at 30 ms.
  CHECK(judged["answer"].nominal == about(0.025 - 0.030));
  CHECK_FALSE(judged["answer"].holds);
}

TEST_CASE("a clean rise without a time has no measure, a fall has one") {
  const std::string rule = "rule \"r\" a falls from 4 V to 1 V\n";
  const Judged clean(rule + "run { on a; step a to 5 V; dwell 1 s; ramp a to 0 V over 1 s }");
  CHECK(clean["r"].holds);
  CHECK(clean["r"].exercised);
  CHECK_FALSE(clean["r"].margin);
  const Judged turned(
      rule + "run { on a; step a to 5 V; dwell 1 s; ramp a to 2 V over 1 s; step a to 2.5 V; ramp a to 0 V over 1 s }");
  CHECK_FALSE(turned["r"].holds);
  CHECK(turned["r"].margin == about(-0.5));
  // A way that turns back to where it began was no way to the other level.
  const Judged begun_again(rule +
                           "run { on a; step a to 5 V; dwell 1 s; ramp a to 2 V over 1 s; ramp a to 5 V over 1 s; "
                           "ramp a to 0 V over 1 s }");
  CHECK(begun_again["r"].holds);
}

TEST_CASE("accuracy takes a distance away, and moves levels before the time of a crossing is taken") {
  const Judged judged(R"(
rule "level" always a <= 5.2 V
rule "difference" always a - 2 * b <= 3.2 V while b >= 0.9 V
rule "order" a >= 2.7 V before b >= 0.5 V by 10 ms
rule "too close" always a <= 5.05 V
run {
  on a, b
  ramp a to 5 V over 50 ms
  dwell 10 ms
  ramp b to 1 V over 20 ms
  dwell 1 s
  ramp b to 0 V over 20 ms
})",
                      vague_channels());
  // 1 % of 5 V and 10 mV are 60 mV.
  CHECK(judged["level"].nominal == about(0.2));
  CHECK(judged["level"].margin == about(0.14));
  // b counts twice. The premise may hold from 1.01 b + 10 mV = 0.9 V on, so from
  // b = 0.89 V / 1.01; there a - 2 b is 5 V - 1.78 V / 1.01, and accuracy takes 60 mV + 2 (1 % of b + 10 mV).
  const double b = 0.89 / 1.01;
  CHECK(judged["difference"].nominal == about(3.2 - (5 - 2 * 0.9)));
  CHECK(judged["difference"].margin == about(3.2 - (5 - 2 * b) - 0.06 - 2 * (0.01 * b + 0.01)));
  // a is surely at 2.7 V where 0.99 a - 10 mV is, b possibly at 0.5 V where 1.01 b + 10 mV is; 1 ms of skew.
  const double a_at = 2.71 / 0.99 / 100;
  const double b_at = 0.060 + 0.49 / 1.01 / 50;
  CHECK(judged["order"].nominal == about(0.060 + 0.010 - 0.027 - 0.010));
  CHECK(judged["order"].margin == about(b_at - a_at - 0.010 - 0.001));
  // It holds as written and is broken by what accuracy may add.
  CHECK(judged["too close"].nominal == about(0.05));
  CHECK(judged["too close"].margin == about(-0.01));
  CHECK_FALSE(judged["too close"].holds);
  CHECK(judged["too close"].holds_as_written);
}

TEST_CASE("errors of channels in series add, each of its share of the voltage") {
  Bench bench = three_channels();
  SupplySpec stack;
  stack.channels = {{"low"}, {"high"}};
  const Bench other = make_bench({stack});
  for (Channel channel : other.channels) {
    channel.name = "s1" + channel.name.substr(2);
    channel.supply = SupplyId{0};
    bench.supplies[0].channels.push_back(ChannelId{static_cast<std::uint32_t>(bench.channels.size())});
    bench.channels.push_back(channel);
  }
  bench.channels[3].limits.voltage.value.high = Volts{number("12 V")};
  bench.channels[4].limits.voltage.value.high = Volts{number("24 V")};
  bench.channels[3].limits.voltage_accuracy = Accuracy<Volts>{number("0.6 %"), Volts{number("20 mV")}};
  bench.channels[4].limits.voltage_accuracy = Accuracy<Volts>{number("0.3 %"), Volts{number("10 mV")}};
  bench.combinations.push_back({"both", Arrangement::Series, {ChannelId{3}, ChannelId{4}}, {}});
  bench.outputs.push_back({"both", CombinationId{0}});
  const Judged judged(R"(
rail d on both
rule "level" always d <= 18.5 V
run { on d; step d to 18 V; dwell 1 s; off d })",
                      bench);
  // 6 V and 12 V: 36 mV and 36 mV of the voltages, and 30 mV of offsets.
  CHECK(judged["level"].nominal == about(0.5));
  CHECK(judged["level"].margin == about(0.5 - 0.102));
}

TEST_CASE("a ramp in stairs is never ahead and up to a stair behind, and the output switch acts at the worse end") {
  Bench bench = vague_channels();
  bench.supplies[0].timing.interpolation = Interpolation::Hold;
  bench.supplies[0].timing.minimum_step = time("100 ms");
  for (Channel& channel : bench.channels) channel.limits.voltage_accuracy.reset();
  const Judged judged(R"(
rule "not ahead" always a - b <= 4.2 V
rule "stairs" always a - b >= 0.5 V while a >= 1 V
rule "switch" b >= 1 V within 100 ms after a >= 3 V
rule "late" a >= 3 V within 800 ms after c >= 0.1 V
run {
  on a, c
  step c to 0.1 V
  ramp a to 4 V over 1 s
  step b to 1 V
  on b
  dwell 1 s
  off b
})",
                      bench);
  // Ten stairs of 0.4 V, each with the value of its start.
  CHECK(judged["not ahead"].margin == about(0.2));
  // a is possibly at 1 V where the ramp is, and surely only where the ramp is a stair higher.
  CHECK(judged["stairs"].nominal == about(0.5));
  CHECK(judged["stairs"].margin == about(0.1));
  // b is told to come on at 1 s and does 11 ms later, or up to 20 ms. a is at 3 V after 0.75 s at the earliest, and not
  // before the ramp is. 1 ms of skew.
  CHECK(judged["switch"].nominal == about(0.1 - 0.25 - 0.011));
  CHECK(judged["switch"].margin == about(0.1 - 0.25 - 0.020 - 0.001));
  // It is there a stair later: 0.85 s. c comes on 2 ms late at the least.
  CHECK(judged["late"].nominal == about(0.8 - 0.75 + 0.011));
  CHECK(judged["late"].margin == about(0.8 - 0.85 + 0.002 - 0.001));
}

TEST_CASE("stairs take nothing from the level at which a ramp begins") {
  Bench bench = three_channels();
  bench.supplies[0].timing.interpolation = Interpolation::Hold;
  bench.supplies[0].timing.minimum_step = time("100 ms");
  const Judged judged(R"(
rule "level" always a >= 1 V while b >= 1 V
rule "later" always a >= 1.8 V while c >= 1 V
run {
  on a, b, c
  step a to 1 V, b to 1 V
  dwell 100 ms
  together {
    ramp a to 5 V over 1 s
    { dwell 250 ms; step c to 1 V }
  }
  step b to 0 V
  dwell 100 ms
})",
                      bench);
  // Stairs of 0.4 V. During the first the rail stands at 1 V.
  CHECK(judged["level"].nominal == about(0));
  CHECK(judged["level"].margin == about(0));
  // After 250 ms the ramp is at 2 V, and what is played at 1.8 V; a stair is taken off at the worst.
  CHECK(judged["later"].nominal == about(0.2));
  CHECK(judged["later"].margin == about(0.2 - 0.4));
}

TEST_CASE("a jump of a supply that runs straight from point to point takes one minimum step") {
  Bench bench = three_channels();
  bench.supplies[0].timing.minimum_step = time("10 ms");
  const Judged judged(R"(
rule "at once" always a - b <= 1 V
rule "together" always a - c <= 0.5 V
rule "answer" b >= 4 V within 20 ms after a >= 4 V
rule "on the way" a >= 4 V within 20 ms after c >= 1 V
run {
  on a, b, c
  dwell 100 ms
  step b to 5 V
  ramp a to 5 V over 5 ms
  dwell 100 ms
  step a to 0 V, c to 0 V
  dwell 10 ms
  step a to 1 V, c to 1 V
  ramp a to 5 V over 40 ms
  dwell 100 ms
})",
                      bench);
  // b runs from 0 V at 100 ms to 5 V at 110 ms, a is at 5 V at 105 ms: 2.5 V apart.
  CHECK(judged["at once"].nominal == about(1));
  CHECK(judged["at once"].margin == about(1 - 2.5));
  CHECK(judged["answer"].nominal == about(0.020));
  CHECK(judged["answer"].margin == about(0.020 - 0.004));
  // At 100 ms + 10 ms a is where its ramp is by then, at 2 V: 1 V of c is there after 10 ms, 4 V of a after 30 ms.
  CHECK(judged["on the way"].nominal == about(0.020 - 0.030));
  CHECK(judged["on the way"].margin == about(0.020 - 0.030));
}

TEST_CASE("a jump that lasts beyond the end of a pass goes on in the next one") {
  Bench bench = three_channels();
  bench.supplies[0].timing.minimum_step = time("10 ms");
  const std::string rules = "rule \"r\" always a - b <= 1 V\n";
  const std::string body = "dwell 20 ms\n step a to 0 V, b to 4 V\n dwell 20 ms\n step a to 4 V, b to 4 V\n";
  const Judged folded(rules + "run { on a, b\n repeat 100000 {" + body + "}\n step a to 3 V\n dwell 20 ms }", bench);
  // a falls from 4 V and b stands at 4 V, but for the first pass, in which b rises from 0 V while a stands at 0 V.
  CHECK(folded["r"].nominal == about(1));
  CHECK(folded["r"].margin == about(1));
}

TEST_CASE("outputs of one supply come on alike, those of two supplies apart") {
  Bench bench = three_channels();
  bench.supplies.push_back(bench.supplies[0]);
  bench.supplies[1].name = "s2";
  bench.channels.push_back(bench.channels[0]);
  bench.channels.back().name = "s2.ch1";
  bench.channels.back().supply = SupplyId{1};
  bench.supplies[1].channels = {ChannelId{3}};
  bench.supplies[0].timing.on_delay = {time("2 ms"), time("20 ms")};
  bench.supplies[1].timing.on_delay = {time("5 ms"), time("9 ms")};
  const Judged judged(R"(
rail d on s2.ch1
rule "alike" a >= 1 V before b >= 1 V by 5 ms
rule "apart" a >= 1 V before d >= 1 V by 5 ms
rule "answer" d >= 1 V within 40 ms after a >= 1 V
rule "answer alike" b >= 1 V within 12 ms after a >= 1 V
run {
  step a to 2 V, b to 2 V, d to 2 V
  on a
  dwell 10 ms
  on b
  dwell 20 ms
  on d
  dwell 100 ms
})",
                      bench);
  // Both a and b come as late as the other: 10 ms apart.
  CHECK(judged["alike"].nominal == about(0.010 - 0.005));
  CHECK(judged["alike"].margin == about(0.010 - 0.005));
  CHECK(judged["answer alike"].margin == about(0.012 - 0.010));
  // a 2 ms to 20 ms, d 35 ms to 39 ms after the start; in the middle 11 ms and 37 ms.
  CHECK(judged["apart"].nominal == about(0.037 - 0.011 - 0.005));
  CHECK(judged["apart"].margin == about(0.035 - 0.020 - 0.005));
  CHECK(judged["apart"].nominal_there == about(0.035 - 0.020 - 0.005));
  CHECK(judged["apart"].switches == SwitchPositions{1, -1});
  CHECK(judged["alike"].switches.empty());
  CHECK(judged["answer"].nominal == about(0.040 - (0.037 - 0.011)));
  CHECK(judged["answer"].margin == about(0.040 - (0.039 - 0.002)));
}

TEST_CASE("of more supplies than are tried in every way those of a condition are set against the others") {
  Bench bench = three_channels();
  for (std::uint32_t i = 1; i < 5; ++i) {
    bench.supplies.push_back(bench.supplies[0]);
    bench.supplies[i].name = "s" + std::to_string(i + 1);
    bench.channels.push_back(bench.channels[0]);
    bench.channels.back().name = bench.supplies[i].name + ".ch1";
    bench.channels.back().supply = SupplyId{i};
    bench.supplies[i].channels = {ChannelId{i + 2}};
    bench.supplies[i].timing.on_delay = {time("10 ms"), time("30 ms")};
  }
  const Judged judged(R"(
rail w on s2.ch1
rail x on s3.ch1
rail y on s4.ch1
rail z on s5.ch1
rule "order" w >= 1 V and x >= 1 V before y >= 1 V or z >= 1 V by 50 ms
run {
  step w to 2 V, x to 2 V, y to 2 V, z to 2 V
  on w, x
  dwell 100 ms
  on y, z
  dwell 100 ms
})",
                      bench);
  // Both of the first 30 ms late, one of the others 10 ms.
  CHECK(judged["order"].nominal == about(0.050));
  CHECK(judged["order"].margin == about(0.100 + 0.010 - 0.030 - 0.050));
}

TEST_CASE("a rail counts as 0 V until its switch has closed, and jumps to where its setpoint is then") {
  Bench bench = three_channels();
  bench.supplies[0].timing.on_delay = {time("2 ms"), time("20 ms")};
  const Judged judged(R"(
rule "there" always a >= 1 V while b >= 1.5 V
rule "rises" c rises from 0.1 V to 1 V within 100 ms
rule "slow" always slew(c) <= 100 V/s
run {
  on b
  dwell 50 ms
  step a to 2 V
  on a
  ramp b to 10 V over 100 ms
  dwell 100 ms
  on c
  ramp c to 2 V over 100 ms
  dwell 100 ms
})",
                      bench);
  // b is at 1.5 V 15 ms after a was told to come on: 11 ms are early enough, 20 ms are not.
  CHECK(judged["there"].nominal == about(1));
  CHECK(judged["there"].margin == about(-1));
  CHECK(judged["there"].holds_as_written);
  // c is at 0.1 V after 5 ms and at 1 V after 50 ms if the switch closes before that; later the way is shorter.
  CHECK(judged["rises"].nominal == about(0.100 - 0.039));
  CHECK(judged["rises"].margin == about(0.100 - 0.045));
  CHECK_FALSE(judged["slow"].holds);
  CHECK_FALSE(judged["slow"].margin);
  const Judged waits(R"(
rule "slow" always slew(c) <= 100 V/s
run { on c; dwell 20 ms; ramp c to 2 V over 100 ms; dwell 100 ms })",
                     bench);
  CHECK(waits["slow"].margin == about(80));
}

TEST_CASE("loops of any length are judged in a few passes, and what is remembered goes on after them") {
  const auto began = std::chrono::steady_clock::now();
  // 345,600 passes of half a second: 48 h. b follows a by 20 ms, and c comes once, after the loop.
  const Judged judged(R"(
rule "b follows" b >= 1 V within 50 ms after a >= 1 V
rule "rises" a rises from 0.5 V to 1.5 V within 60 ms
rule "c last" always c <= 0.5 V while a >= 0.5 V
rule "b before c" b >= 1 V before c >= 1 V by 10 ms
run {
  on a, b, c
  repeat 345600 {
    ramp a to 2 V over 80 ms
    step b to 1 V
    dwell 220 ms
    step a to 0 V
    dwell 200 ms
    step b to 0 V
  }
  dwell 1 s
  step b to 1 V
  dwell 30 ms
  step c to 1 V
  dwell 1 s
})");
  const std::chrono::duration<double> took = std::chrono::steady_clock::now() - began;
  // a is at 1 V after 40 ms, b comes at 80 ms and takes 1 ms: 9 ms are left. 1 V of 25 V/s: 40 ms of 60 ms.
  CHECK(judged["b follows"].nominal == about(0.010));
  CHECK(judged["b follows"].margin == about(0.009));
  CHECK(judged["b follows"].passes == Passes{1});
  CHECK(judged["rises"].margin == about(0.020));
  CHECK(judged["c last"].margin == about(0.5));
  CHECK(judged["b before c"].margin == about(0.020));
  CHECK(judged["b before c"].time_s == about(48 * 3600 + 1.030));
  CHECK(took.count() < 2);  // each pass walked would take far longer
}

TEST_CASE("what goes on for seconds over passes of microseconds is followed in a few of them") {
  const auto began = std::chrono::steady_clock::now();
  Bench bench = three_channels();
  bench.supplies[0].timing.minimum_step = time("10 s");
  // b is called for just before 100 million passes of 2 us, and a answers behind them.
  const Judged judged(R"(
rule "answer" a >= 1 V within 1000 s after b >= 1 V
run {
  on a, b, c
  dwell 1 s
  step b to 2 V
  repeat 100000000 {
    step c to 1 V; dwell 1 us
    step c to 0 V; dwell 1 us
  }
  step a to 2 V
  dwell 20 s
})",
                      bench);
  const std::chrono::duration<double> took = std::chrono::steady_clock::now() - began;
  CHECK(judged["answer"].nominal == about(800));
  // Both jumps take 10 s, and are half way after 5 s.
  CHECK(judged["answer"].margin == about(800));
  CHECK(took.count() < 2);  // each pass walked would take far longer
}

TEST_CASE("a call that is open at the seam of two passes is answered in the next") {
  // b's level is called for at 400 ms of each pass and reached 30 ms after the seam: 130 ms later.
  const Judged judged(R"(
rule "r" b >= 1 V within 200 ms after a >= 1 V
run {
  on a, b
  repeat 1000 {
    dwell 30 ms
    step b to 1 V
    dwell 70 ms
    step b to 0 V
    dwell 300 ms
    step a to 1 V
    dwell 99 ms
    step a to 0 V
    dwell 1 ms
  }
})");
  CHECK(judged["r"].margin == about(0.070));
  CHECK(judged["r"].passes == Passes{2});
}

// Whatever a body does, and however its rules reach over the seams.
TEST_CASE("passes are judged like as many copies") {
  CHECK(rc::check("copies", [] {
    std::string body;
    for (int i = *rc::gen::inRange(1, 8); i > 0; --i) {
      const char rail = *rc::gen::element('a', 'b');
      const std::string volts = std::to_string(*rc::gen::inRange(0, 4));
      const std::string ms = std::to_string(10 * *rc::gen::inRange(1, 9));
      switch (*rc::gen::inRange(0, 4)) {
        case 0:
          body += std::string("ramp ") + rail + " to " + volts + " V over " + ms + " ms\n";
          break;
        case 1:
          body += std::string("step ") + rail + " to " + volts + " V\n";
          break;
        case 2:
          body += std::string(*rc::gen::arbitrary<bool>() ? "on " : "off ") + rail + "\n";
          break;
        default:
          body += "dwell " + ms + " ms\n";
          break;
      }
    }
    body += "dwell 10 ms\n";
    const std::string rules = R"(
rule "always" always a - b <= 1.5 V while a >= 0.5 V
rule "before" a >= 1.5 V before b >= 1.5 V by 30 ms
rule "within" a >= 2 V within 100 ms after b >= 0.5 V
rule "rises" a rises from 0.5 V to 2.5 V within 70 ms
rule "falls" b falls from 2.5 V to 0.5 V
)";
    const int passes = *rc::gen::inRange(1, 9);
    std::string copies;
    for (int i = 0; i < passes; ++i) copies += body;
    const std::string end = "dwell 200 ms\n}\n";
    const Judged folded(rules + "run {\nrepeat " + std::to_string(passes) + " {\n" + body + "}\n" + end,
                        vague_channels());
    const Judged unrolled(rules + "run {\n" + copies + end, vague_channels());
    for (const char* name : {"always", "before", "within", "rises", "falls"}) {
      const RuleResult& one = folded[name];
      const RuleResult& other = unrolled[name];
      RC_ASSERT(one.holds == other.holds);
      RC_ASSERT(one.exercised == other.exercised);
      RC_ASSERT(one.margin.has_value() == other.margin.has_value());
      if (!one.margin) continue;
      RC_ASSERT(std::abs(*one.margin - *other.margin) < 1e-9);
      RC_ASSERT(std::abs(one.time_s - other.time_s) < 1e-9);
    }
  }));
}

// A supply that holds each setpoint jumps at once.
Bench holding_channels() {
  Bench bench = three_channels();
  bench.supplies[0].timing.interpolation = Interpolation::Hold;
  return bench;
}

// Setpoints and marks; worked by hand.
TEST_CASE("a rule of a phase is judged between its marks alone, and each time again") {
  const Judged judged(R"(
rule "high" from "begin" to "end" always a >= 2 V
rule "everywhere" always a >= 2 V
rule "answer" from "begin" to "end" b >= 1 V within 100 ms after a >= 1 V
rule "order" from "begin" to "end" b >= 1 V before a >= 3 V
rule "never" from "too late" to "over" always a >= 100 V while b >= 5 V
run {
  on a, b
  step a to 2.5 V
  dwell 1 s
  mark "begin"
  dwell 50 ms
  step b to 1 V
  dwell 1 s
  mark "end"
  step a to 0 V, b to 0 V
  dwell 1 s
  step a to 2.2 V
  mark "begin"
  dwell 30 ms
  step b to 1 V
  dwell 10 ms
  step a to 3 V
  dwell 1 s
  mark "end"
  step a to 0 V
  mark "too late"
  dwell 1 s
  mark "over"
  off a, b
}
)",
                      holding_channels());
  // 2.5 V in the first phase and 2.2 V in the second, 0 V outside of both.
  CHECK(judged["high"].margin == about(0.2));
  CHECK(judged["everywhere"].margin == about(-2));
  // a holds when a phase begins: 100 ms less 50 ms, and less 30 ms.
  CHECK(judged["answer"].margin == about(0.05));
  // In the second phase b comes 10 ms before a; in the first a never comes.
  CHECK(judged["order"].margin == about(0.01));
  CHECK_FALSE(judged["never"].exercised);
  CHECK(judged.broken() == "everywhere");
}

TEST_CASE("phases in passes are judged like as many copies") {
  const std::string rules = R"(
rule "high" from "begin" to "end" always a >= 2 V
rule "answer" from "begin" to "end" b >= 1 V within 100 ms after a >= 1 V
rule "seam" from "end" to "start" always a <= 3 V
)";
  const std::string pass = R"(
  mark "start"
  step a to 2.4 V, b to 0 V
  dwell 20 ms
  mark "begin"
  dwell 30 ms
  step b to 1 V
  dwell 500 ms
  mark "end"
  step a to 2.9 V
  dwell 5 ms
)";
  std::string copies;
  for (int i = 0; i < 7; ++i) copies += pass;
  const std::string end = "  mark \"start\"\n  off a, b\n}\n";
  const Judged written(rules + "run {\n  on a, b\n" + copies + end, holding_channels());
  for (const char* passes : {"7", "1000000"}) {
    CAPTURE(passes);
    const Judged folded(rules + "run {\n  on a, b\n  repeat " + passes + " {" + pass + "  }\n" + end,
                        holding_channels());
    for (const char* name : {"high", "answer", "seam"}) {
      CAPTURE(name);
      REQUIRE(folded[name].margin.has_value());
      CHECK(folded[name].margin == written[name].margin);
      CHECK(folded[name].holds == written[name].holds);
    }
    CHECK(folded["high"].margin == about(0.4));
    CHECK(folded["seam"].margin == about(0.1));
  }
}
