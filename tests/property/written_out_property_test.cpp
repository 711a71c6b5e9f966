#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <sstream>
#include <string>
#include <vector>

#include "compiler/export/csv.h"
#include "compiler/export/list.h"
#include "compiler/export/list_plan.h"
#include "compiler/export/spice.h"
#include "compiler/export/vcd.h"
#include "runtime/predict/answer.h"
#include "tests/support/dice.h"
#include "tests/support/near.h"
#include "tests/support/string_sink.h"

// Profiles as texts that say the same in two ways: with loops and without, with branches side by side and one by one,
// and the same in another time.
using namespace rampart;
using namespace rampart::test;

namespace {

// Two supplies whose grids do not meet in every pass. `right` takes its settings as they are, or runs straight.
std::string bench_text(const std::string& interpolation) {
  const std::string channels =
      "voltage: {range: 0 V .. 24 V, resolution: 10 mV}, current: {range: 0 A .. 3 A, resolution: 1 mA}}";
  return "bench: Two\nsupplies:\n"
         "  left: {timing: {minimum_step: 10 ms, resolution: 1 ms, interpolation: " +
         interpolation + "}, table: {points: 60, repeats: 50}, channels: {ch1: {" + channels +
         "}}\n"
         "  right: {timing: {minimum_step: 30 ms, resolution: 5 ms, interpolation: " +
         interpolation + "}, table: {points: 60, repeats: 50}, channels: {ch1: {" + channels + "}}\n";
}

constexpr const char* kResistors = R"(load: Two resistors
rails:
  core: {wire: 50 mOhm, elements: [{kind: resistor, resistance: 10 Ohm}]}
  io: {elements: [{kind: resistor, resistance: 33 Ohm}]}
)";
constexpr const char* kCapacitors = R"(load: What forgets within some milliseconds
rails:
  core: {wire: 50 mOhm, elements: [{kind: resistor, resistance: 10 Ohm}, {kind: capacitor, capacitance: 100 uF, esr: 20 mOhm}]}
  io: {elements: [{kind: resistor, resistance: 33 Ohm}, {kind: capacitor, capacitance: 47 uF, esr: 50 mOhm}]}
)";

// Statements of one rail, as a text and as long as they last.
struct Stretch {
  std::string text;
  long length_ms = 0;
};

std::string millivolts(Dice& dice) {
  return std::to_string(10 * static_cast<long>(dice.between(10, 2000))) + " mV";
}

class Writer {
 public:
  // `unit`: what one of the times below is, in ms.
  Writer(Dice& dice, std::string rail, long unit, bool steps = true)
      : dice_(dice), rail_(std::move(rail)), unit_(unit), steps_(steps) {}

  Stretch statements(int depth) {
    Stretch all;
    for (int i = dice_.up_to(2); i >= 0; --i) add(all, depth);
    return all;
  }

 private:
  void add(Stretch& all, int depth) {
    const long length = static_cast<long>(dice_.between(40, 300));
    const std::string to = millivolts(dice_);
    switch (dice_.up_to(depth > 0 ? 4 : 2)) {
      case 0:
        if (!steps_) return;
        all.text += "step " + rail_ + " to " + to + "; dwell " + lasting(length);
        break;
      case 1:
        all.text += "ramp " + rail_ + " to " + to + " over " + lasting(length);
        break;
      case 2:
        all.text += "dwell " + lasting(length);
        break;
      default:
        return repeat(all, depth);
    }
    all.text += "\n";
    all.length_ms += length * unit_;
  }
  void repeat(Stretch& all, int depth) {
    const long passes = 1 + dice_.up_to(7);
    const Stretch body = statements(depth - 1);
    all.text += "repeat " + std::to_string(passes) + " {\n" + body.text + "}\n";
    all.length_ms += passes * body.length_ms;
  }
  [[nodiscard]] std::string lasting(long length) const { return std::to_string(length * unit_) + " ms"; }

  Dice& dice_;
  std::string rail_;
  long unit_;
  bool steps_;
};

// Each `repeat N` as a `for`, which writes its passes out.
std::string written_out(std::string text) {
  const std::string head = "repeat ";
  int names = 0;
  for (std::size_t at = 0; (at = text.find(head, at)) != std::string::npos;) {
    const std::size_t end = text.find(" {", at);
    const std::string count = text.substr(at + head.size(), end - at - head.size());
    text.replace(at, end - at, "for n" + std::to_string(++names) + " in 1 .. " + count + " step 1");
  }
  return text;
}

// A job that holds these statements.
class Played {
 public:
  // `unit`: as a Writer's.
  Played(const std::string& interpolation, const char* load, const std::string& statements, long unit = 1) {
    const std::string wait = "dwell " + std::to_string(100 * unit) + " ms\n";
    HeldTexts files;
    files.hold("b.bench.yaml", bench_text(interpolation));
    files.hold("l.load.yaml", load);
    profile_ =
        "bench \"b.bench.yaml\"\nload \"l.load.yaml\"\nrail core on left.ch1\nrail io on right.ch1\n"
        "run {\nlimit core to 2 A, io to 2 A\non core, io\n" +
        wait + statements + wait + "off core, io\n}\n";
    files.hold("p.ramp", profile_);
    answer_ = answer(files, "p.ramp", {}, {});
  }

  [[nodiscard]] bool is_clean() const { return !answer_.findings.has_errors() && answer_.has_table(); }
  [[nodiscard]] const std::string& profile() const { return profile_; }
  [[nodiscard]] const Table& table() const { return *answer_.compiled.run(); }
  [[nodiscard]] const Simulation& simulation() const { return *answer_.predictions.simulation; }

  template <class Write>
  [[nodiscard]] std::string text(Write&& write) const {
    StringSink sink;
    write(sink);
    return sink.text();
  }
  [[nodiscard]] std::string csv(RowForm form) const {
    return text([&](StringSink& sink) { write_csv(table(), nullptr, form, sink); });
  }
  // What each channel plays from its own memory, or why it cannot.
  [[nodiscard]] std::string lists() const {
    FindingSink findings;
    std::ostringstream shown;
    if (const auto lists = plan_lists(table(), {}, findings)) {
      for (const ChannelList& list : *lists) {
        shown << list.passes << " times";
        for (const ListPoint& point : list.points)
          shown << " " << point.voltage << "/" << point.current << "/" << point.dwell.count();
        shown << "\n";
      }
    }
    for (const Finding& finding : findings.findings()) shown << finding.message << "\n";
    return shown.str();
  }
  // The rows of one channel.
  [[nodiscard]] std::string rows_of(const std::string& channel) const {
    std::istringstream all(csv(RowForm::Changes));
    std::string rows;
    for (std::string line; std::getline(all, line);) {
      if (line.find("," + channel + ",") != std::string::npos) rows += line + "\n";
    }
    return rows;
  }

 private:
  std::string profile_;
  Answer answer_;
};

constexpr std::uint32_t kSeed = 20'260'401;

}  // namespace

TEST_CASE("a table with loops is the one that is written out, byte for byte, and is simulated alike") {
  int compared = 0;
  int listed = 0;
  for (std::uint32_t i = 0; i < 150; ++i) {
    Dice dice(kSeed + i);
    const std::string interpolation = dice.chance(0.7) ? "hold" : "linear";
    Writer core(dice, "core", 1);
    Writer io(dice, "io", 1);
    const std::string statements =
        in_order({"repeat ", std::to_string(2 + dice.up_to(10)), " {\n", core.statements(2).text, io.statements(2).text,
                  "}\n", core.statements(1).text});
    const Played folded(interpolation, kCapacitors, statements);
    const Played written(interpolation, kCapacitors, written_out(statements));
    CAPTURE(folded.profile());
    REQUIRE(folded.is_clean() == written.is_clean());
    if (!folded.is_clean()) continue;
    CHECK(folded.csv(RowForm::Changes) == written.csv(RowForm::Changes));
    CHECK(folded.csv(RowForm::Instants) == written.csv(RowForm::Instants));
    const auto spice = [](const Played& one) {
      return one.text([&](StringSink& sink) { write_spice(one.table(), sink); });
    };
    CHECK(spice(folded) == spice(written));
    const auto vcd = [](const Played& one) {
      return one.text([&](StringSink& sink) { write_vcd(one.table(), sink); });
    };
    CHECK(vcd(folded) == vcd(written));
    CHECK(folded.lists() == written.lists());
    listed += folded.lists().find("times") != std::string::npos ? 1 : 0;
    const Simulation& one = folded.simulation();
    const Simulation& other = written.simulation();
    CHECK(one.total_energy_J == relative(other.total_energy_J, 1e-9));
    for (std::size_t rail = 0; rail < 2; ++rail) {
      CHECK(one.rails[rail].energy_J == relative(other.rails[rail].energy_J, 1e-9));
      CHECK(one.rails[rail].current_A.value == relative(other.rails[rail].current_A.value, 1e-9));
      CHECK(one.rails[rail].voltage_V.value == relative(other.rails[rail].voltage_V.value, 1e-9));
    }
    ++compared;
  }
  MESSAGE(compared << " compared, " << listed << " of them lists");
  CHECK(compared > 75);
}

TEST_CASE("branches side by side are those that are played one by one, each waiting for the longest") {
  int compared = 0;
  for (std::uint32_t i = 0; i < 120; ++i) {
    Dice dice(kSeed + 10'000 + i);
    const std::string interpolation = dice.chance(0.7) ? "hold" : "linear";
    const Stretch core = Writer(dice, "core", 1).statements(2);
    const Stretch io = Writer(dice, "io", 1).statements(2);
    const auto alone = [](const Stretch& stretch, const Stretch& other) {
      const long wait = other.length_ms - stretch.length_ms;
      return stretch.text + (wait > 0 ? "dwell " + std::to_string(wait) + " ms\n" : "");
    };
    const Played together(interpolation, kResistors, "together {\n{\n" + core.text + "}\n{\n" + io.text + "}\n}\n");
    const Played first(interpolation, kResistors, alone(core, io));
    const Played second(interpolation, kResistors, alone(io, core));
    CAPTURE(together.profile());
    // Each is right where both are.
    REQUIRE((first.is_clean() && second.is_clean()) == together.is_clean());
    if (!together.is_clean()) continue;
    CHECK(together.rows_of("left.ch1") == first.rows_of("left.ch1"));
    CHECK(together.rows_of("right.ch1") == second.rows_of("right.ch1"));
    const auto energy = [](const Played& one, std::size_t rail) { return one.simulation().rails[rail].energy_J; };
    CHECK(energy(together, 0) == relative(energy(first, 0), 1e-9));
    CHECK(energy(together, 1) == relative(energy(second, 1), 1e-9));
    ++compared;
  }
  MESSAGE(compared << " compared");
  CHECK(compared > 60);
}

// Of a resistor: its power depends on the voltage alone, so the integral over k times the time is k times as large. The
// profile is made twice by the same dice, its times in another unit. A step takes such a supply its minimum step,
// whatever the unit, so there are none.
TEST_CASE("on supplies that run straight, k times the time is k times the energy of a resistor") {
  int compared = 0;
  for (std::uint32_t i = 0; i < 80; ++i) {
    const std::uint32_t seed = kSeed + 20'000 + i;
    const long k = 2 + static_cast<long>(i % 8);
    const auto statements = [seed](long unit) {
      Dice dice(seed);
      return in_order({Writer(dice, "core", 5 * unit, false).statements(2).text,
                       Writer(dice, "io", 5 * unit, false).statements(2).text});
    };
    const auto energy = [](const Played& one, std::size_t rail) { return one.simulation().rails[rail].energy_J; };
    const Played once("linear", kResistors, statements(1), 1);
    const Played longer("linear", kResistors, statements(k), k);
    CAPTURE(once.profile());
    REQUIRE(once.is_clean());
    REQUIRE(longer.is_clean());
    for (std::size_t rail = 0; rail < 2; ++rail) {
      CHECK(energy(longer, rail) == relative(static_cast<double>(k) * energy(once, rail), 1e-9));
    }
    ++compared;
  }
  CHECK(compared == 80);
}
