// Every key of a load file, and every way to get one wrong. All loads here are invented.
#include <doctest/doctest.h>

#include "runtime/load/elements/element_kinds.h"
#include "runtime/load/load.h"
#include "tests/support/file_text.h"
#include "tests/support/near.h"

namespace rampart {
namespace {

using test::relative;
using test::with;

constexpr std::string_view kFull = R"(load: Everything at once
rails:
  logic:
    wire: 40 mOhm +- 10 %
    elements:
      - {kind: resistor, resistance: 24 Ohm +- 3 Ohm}
      - {kind: capacitor, capacitance: 470 uF +- 20 %, esr: 60 mOhm, leakage: 1 MOhm, initial_voltage: 1 V}
      - {kind: inductor, inductance: 10 mH ± 5 %, resistance: 2 Ohm, initial_current: 100 mA}
      - {kind: constant_current, current: 20 mA, from: 1.8 V}
      - {kind: constant_power, power: 6 W, starts_at: 9 V, stops_at: 7.5 V, input_capacitance: 220 uF, initial_voltage: 2 V, soft_start: 5 ms, quiescent_current: 1 mA}
      - {kind: diode, saturation_current: 1 nA, ideality: 1.8 +- 5 %, in_series: 3, series_resistance: 0.5 Ohm, temperature: 350 K}
      - {kind: lamp, rated_voltage: 12 V, rated_power: 30 W, cold_resistance: 0.35 Ohm, heat_capacity: 0.01 J/K, cold_temperature: 20 degC, exponent: 1.1}
      - {kind: iv_curve, points: [[-1 V, -1 mA], [0 V, 0 A], [5 V, 20 mA]]}
      - {kind: pulsed_current, current: 2 A, on: 577 us, period: 4.615 ms, from: 3 V, rest: 10 mA}
      - {kind: source, voltage: 3.7 V, resistance: 100 mOhm}
      - {kind: load_profile, power_good: 3 V, draws: [[0 s, 20 mA], [50 ms, 400 mA]], input_capacitance: 10 uF}
      - {kind: clamp, breakdown_voltage: 6.8 V +- 5 %, dynamic_resistance: 300 mOhm}
  radio:
    elements: []
faults:
  shorted: {rail: logic, at: mark nominal + 5 s, becomes: [{kind: resistor, resistance: 50 mOhm}]}
  opened: {rail: radio, at: 30 s, becomes: []}
  plain: {rail: radio, at: mark all rails up, becomes: []}
  quoted: {rail: radio, at: mark "a + b" + 0.5 ms, becomes: []}
)";

struct Outcome {
  std::optional<Load> load;
  std::vector<std::string> findings;
};

Outcome read(std::string_view text) {
  SourceSet sources;
  FindingSink sink;
  const FileId file = sources.add("l.yaml", std::string(text));
  Outcome outcome;
  outcome.load = read_load(sources, file, sink);
  outcome.findings = test::finding_lines(sources, sink);
  CHECK(test::broken_promise(sources, sink, outcome.load.has_value()) == "");
  return outcome;
}

std::string joined(const std::vector<std::string>& lines) {
  std::string text;
  for (const std::string& line : lines) text += (text.empty() ? "" : "\n") + line;
  return text;
}

std::string changed(std::string_view from, std::string_view to) {
  return joined(read(with(std::string(kFull), from, to)).findings);
}

// The findings of one rail with one element, which stands at 4:17.
std::string element(const std::string& text) {
  return joined(read("load: x\nrails:\n  r:\n    elements: [" + text + "]\n").findings);
}

void check_toleranced(const Toleranced& value, double nominal, double low, double high) {
  CHECK(value.nominal == relative(nominal, 1e-15));
  CHECK(value.low == relative(low, 1e-15));
  CHECK(value.high == relative(high, 1e-15));
}

template <class Element>
const Element& part(const Load& load, std::size_t index) {
  return std::get<Element>(load.rails[0].elements[index].what);
}

}  // namespace

TEST_CASE("load: the linear elements with every key") {
  const Outcome outcome = read(kFull);
  CHECK(joined(outcome.findings) == "");
  REQUIRE(outcome.load);
  const Load& load = *outcome.load;
  CHECK(load.title == "Everything at once");
  REQUIRE(load.rails.size() == 2);
  REQUIRE(load.rails[0].elements.size() == 12);
  CHECK(load.rails[0].elements[3].kind() == "constant_current");
  check_toleranced(load.rails[0].wire, 0.04, 0.036, 0.044);
  check_toleranced(part<ResistorElement>(load, 0).resistance, 24, 21, 27);
  const auto& capacitor = part<CapacitorElement>(load, 1);
  check_toleranced(capacitor.capacitance, 470e-6, 376e-6, 564e-6);
  check_toleranced(capacitor.esr, 0.06, 0.06, 0.06);
  check_toleranced(*capacitor.leakage, 1e6, 1e6, 1e6);
  CHECK(capacitor.initial_voltage == 1.0);
  const auto& inductor = part<InductorElement>(load, 2);
  check_toleranced(inductor.inductance, 10e-3, 9.5e-3, 10.5e-3);
  check_toleranced(inductor.resistance, 2, 2, 2);
  CHECK(inductor.initial_current == 0.1);
  const auto& current = part<ConstantCurrentElement>(load, 3);
  check_toleranced(current.current, 0.02, 0.02, 0.02);
  CHECK(current.from == 1.8);
  const auto& source = part<SourceElement>(load, 9);
  check_toleranced(source.voltage, 3.7, 3.7, 3.7);
  check_toleranced(source.resistance, 0.1, 0.1, 0.1);
  CHECK(load.find_rail("radio") == &load.rails[1]);
  CHECK(load.find_rail("radi") == nullptr);
  CHECK(load.rails[1].elements.empty());
  check_toleranced(load.rails[1].wire, 0, 0, 0);
}

TEST_CASE("load: the other elements with every key") {
  const Outcome outcome = read(kFull);
  REQUIRE(outcome.load);
  const Load& load = *outcome.load;
  const auto& power = part<ConstantPowerElement>(load, 4);
  CHECK(power.power.nominal == 6.0);
  CHECK(power.starts_at.nominal == 9.0);
  CHECK(power.stops_at.nominal == 7.5);
  CHECK(power.input_capacitance.nominal == 220e-6);
  CHECK(power.initial_voltage == 2.0);
  CHECK(power.soft_start == 0.005);
  CHECK(power.quiescent_current.nominal == 0.001);
  const auto& diode = part<DiodeElement>(load, 5);
  CHECK(diode.saturation_current.nominal == 1e-9);
  check_toleranced(diode.ideality, 1.8, 1.71, 1.89);
  CHECK(diode.in_series == 3.0);
  CHECK(diode.series_resistance.nominal == 0.5);
  CHECK(diode.temperature == 350.0);
  const auto& lamp = part<LampElement>(load, 6);
  CHECK(lamp.rated_voltage.nominal == 12.0);
  CHECK(lamp.rated_power.nominal == 30.0);
  CHECK(lamp.cold_resistance.nominal == 0.35);
  CHECK(lamp.heat_capacity.nominal == 0.01);
  CHECK(lamp.cold_temperature == 293.15);
  CHECK(lamp.exponent == 1.1);
  const std::vector<std::pair<double, double>> curve{{-1.0, -0.001}, {0.0, 0.0}, {5.0, 0.02}};
  CHECK(part<CurveElement>(load, 7).points == curve);
  const auto& pulsed = part<PulsedCurrentElement>(load, 8);
  CHECK(pulsed.current.nominal == 2.0);
  CHECK(pulsed.on == 577e-6);
  CHECK(pulsed.period == 4.615e-3);
  CHECK(pulsed.from == 3.0);
  CHECK(pulsed.rest == 0.01);
  const auto& clamp = part<ClampElement>(load, 11);
  check_toleranced(clamp.breakdown_voltage, 6.8, 6.46, 7.14);
  CHECK(clamp.dynamic_resistance.nominal == 0.3);
  const auto& profile = part<LoadProfileElement>(load, 10);
  CHECK(profile.power_good.nominal == 3.0);
  const std::vector<std::pair<double, double>> draws{{0.0, 0.02}, {0.05, 0.4}};
  CHECK(profile.draws == draws);
  CHECK(profile.input_capacitance->nominal == 10e-6);
}

TEST_CASE("load: parts are called by their names, else by kind and number, and no name is given twice on a rail") {
  const std::string head = "load: l\nrails:\n  logic:\n    elements:\n";
  const Outcome outcome = read(head +
                               "      - {kind: capacitor, capacitance: 1 uF}\n"
                               "      - {kind: capacitor, name: bulk capacitor, capacitance: 470 uF}\n"
                               "      - {kind: resistor, resistance: 1 Ohm}\n"
                               "      - {kind: capacitor, capacitance: 1 uF}\n");
  REQUIRE(outcome.load);
  const RailLoad& rail = outcome.load->rails[0];
  CHECK(rail.name_of(0) == "capacitor 1");
  CHECK(rail.name_of(1) == "bulk capacitor");
  CHECK(rail.name_of(2) == "resistor 1");
  CHECK(rail.name_of(3) == "capacitor 3");
  const Outcome twice = read(head +
                             "      - {kind: resistor, name: r, resistance: 1 Ohm}\n"
                             "      - {kind: resistor, name: r, resistance: 2 Ohm}\n");
  CHECK_FALSE(twice.load);
  REQUIRE(twice.findings.size() == 1);
  CHECK(twice.findings[0].find("duplicate-name: `r` is listed twice") != std::string::npos);
}

TEST_CASE("load: faults") {
  const Outcome outcome = read(kFull);
  REQUIRE(outcome.load);
  const std::vector<Fault>& faults = outcome.load->faults;
  REQUIRE(faults.size() == 4);
  CHECK(faults[0].name == "shorted");
  CHECK(faults[0].rail == "logic");
  CHECK(faults[0].mark == "nominal");
  CHECK(faults[0].after == std::chrono::seconds(5));
  REQUIRE(faults[0].becomes.size() == 1);
  CHECK(std::get<ResistorElement>(faults[0].becomes[0].what).resistance.nominal == 0.05);
  CHECK_FALSE(faults[1].mark);
  CHECK(faults[1].after == std::chrono::seconds(30));
  CHECK(faults[1].becomes.empty());
  CHECK(faults[2].mark == "all rails up");
  CHECK(faults[2].after == Nanoseconds(0));
  CHECK(faults[3].mark == "a + b");
  CHECK(faults[3].after == std::chrono::microseconds(500));
  CHECK(outcome.load->find_fault("plain") == &faults[2]);
  CHECK(outcome.load->find_fault("none") == nullptr);
}

TEST_CASE("load: what is not said") {
  const Outcome outcome = read(R"(load: x
rails:
  r:
    elements:
      - kind: capacitor
        capacitance: 1 uF
      - {kind: diode, saturation_current: 1 nA, ideality: 2}
      - {kind: lamp, rated_voltage: 12 V, rated_power: 30 W, cold_resistance: 0.35 Ohm, heat_capacity: 0.01 J/K}
)");
  CHECK(joined(outcome.findings) == "");
  REQUIRE(outcome.load);
  CHECK(part<CapacitorElement>(*outcome.load, 0).esr.nominal == 0.0);
  CHECK_FALSE(part<CapacitorElement>(*outcome.load, 0).leakage);
  CHECK(part<DiodeElement>(*outcome.load, 1).in_series == 1.0);
  CHECK(part<DiodeElement>(*outcome.load, 1).temperature == 300.0);
  CHECK(part<LampElement>(*outcome.load, 2).cold_temperature == 300.0);
  CHECK(part<LampElement>(*outcome.load, 2).exponent == 1.2);
}

TEST_CASE("load: unknown kinds and keys") {
  CHECK(element("{kind: resistr, resistance: 1 Ohm}") ==
        "4:23 unknown-name: there is no kind of element named `resistr` | write `resistor`");
  CHECK(
      element("{kind: zener, x: 1}") ==
      "4:23 unknown-name: there is no kind of element named `zener` | choose from `resistor`, `capacitor`, `inductor`, "
      "`constant_current`, `constant_power`, `diode`, `lamp`, `iv_curve`, `pulsed_current`, `source`, `load_profile`, "
      "`clamp`");
  CHECK(element("{resistance: 1 Ohm}") ==
        "4:17 bad-value: this element lacks the key `kind` | write it as in `{kind: resistor, resistance: 10 Ohm}`");
  CHECK(element("resistor") ==
        "4:16 bad-value: this element lacks the key `kind` | write it as in `{kind: resistor, resistance: 10 Ohm}`");
  CHECK(element("{kind: resistor, resistence: 1 Ohm}") ==
        "4:33 unknown-key: `resistor` has no key `resistence` | write `resistance`");
  CHECK(element("{kind: capacitor, capacitance: 1 uF, inductance: 1 H}") ==
        "4:53 unknown-key: `capacitor` has no key `inductance` | its keys are `kind`, `name`, `capacitance`, `esr`, "
        "`leakage`, `initial_voltage`");
  CHECK(changed("wire:", "wires:") == "4:5 unknown-key: rail `logic` has no key `wires` | write `wire`");
  CHECK(changed("at: 30 s", "when: 30 s") ==
        "22:3 bad-value: fault `opened` lacks the key `at`\n22:25 unknown-key: fault `opened` has no key `when` | its "
        "keys are `rail`, `at`, `becomes`");
}

TEST_CASE("load: misspelt keys are told, whichever two they are, and nothing is made of what is missing") {
  CHECK(element("{kind: lamp, rated_voltag: 6 V, rated_power: 3 W, cold_resistanc: 1 Ohm, heat_capacity: 2 mJ/K}") ==
        "4:29 unknown-key: `lamp` has no key `rated_voltag` | write `rated_voltage`\n"
        "4:66 unknown-key: `lamp` has no key `cold_resistanc` | write `cold_resistance`");
  // The limits of a converter are not held against a limit that is not there.
  CHECK(element("{kind: constant_power, power: 6 W, starts_a: 9 V, stops_at: 7.5 V, input_capacitance: 220 uF}") ==
        "4:51 unknown-key: `constant_power` has no key `starts_a` | write `starts_at`");
  std::size_t tried = 0;
  for (const std::string& text : test::with_wrong_keys(std::string(kFull))) {
    // Names of rails and faults are free.
    const Outcome outcome = read(text);
    if (!outcome.load) ++tried;
  }
  CHECK(tried > 5000);
}

// The message about `kind`, with an element of that kind as its hint.
std::string lacking(const std::string& kind, const std::string& keys) {
  std::string example;
  for_each_kind([&](const auto& one) {
    if (one.name == kind) example = one.example;
  });
  return "4:17 bad-value: `" + kind + "` lacks the " + keys + " | write it as in `" + example + "`";
}

TEST_CASE("load: every mandatory key is asked for, all of an element in one finding") {
  CHECK(element("{kind: resistor}") ==
        "4:17 bad-value: `resistor` lacks the key `resistance` | write it as in "
        "`{kind: resistor, resistance: 12 Ohm +- 5 %}`");
  CHECK(element("{kind: capacitor}") == lacking("capacitor", "key `capacitance`"));
  CHECK(element("{kind: inductor}") == lacking("inductor", "keys `inductance`, `resistance`"));
  CHECK(element("{kind: constant_current}") == lacking("constant_current", "key `current`"));
  CHECK(element("{kind: constant_power, power: 6 W, starts_at: 9 V, stops_at: 7 V}") ==
        lacking("constant_power", "key `input_capacitance`"));
  CHECK(element("{kind: constant_power, power: 6 W}") ==
        "4:17 bad-value: `constant_power` lacks the keys `starts_at`, `stops_at`, `input_capacitance` | write it as in "
        "`{kind: constant_power, power: 10 W +- 10 %, starts_at: 7 V, stops_at: 6 V, input_capacitance: 100 uF}`");
  CHECK(element("{kind: diode, saturation_current: 1 nA}") == lacking("diode", "key `ideality`"));
  CHECK(element("{kind: lamp, rated_voltage: 12 V, rated_power: 30 W, cold_resistance: 1 Ohm}") ==
        lacking("lamp", "key `heat_capacity`"));
  CHECK(element("{kind: iv_curve}") == lacking("iv_curve", "key `points`"));
  CHECK(element("{kind: pulsed_current, current: 1 A, on: 1 s}") == lacking("pulsed_current", "key `period`"));
  CHECK(element("{kind: source, voltage: 1 V}") == lacking("source", "key `resistance`"));
  CHECK(element("{kind: load_profile, power_good: 1 V}") == lacking("load_profile", "key `draws`"));
  CHECK(joined(read("load: x\nrails: {a: {}}\n").findings) == "2:9 bad-value: rail `a` lacks the key `elements`");
  CHECK(joined(read("load: x\n").findings) == "1:1 bad-value: a load file lacks the key `rails`");
}

TEST_CASE("load: a tolerance with a key of its own is told where it stands") {
  CHECK(element("{kind: capacitor, capacitance: 470 uF, tolerance: 20 %}") ==
        "4:55 unknown-key: `capacitor` has no key `tolerance` | a tolerance follows its value: write "
        "`capacitance: 470 uF +- 20 %`");
  CHECK(element("{kind: resistor, tolerance: 5 %}") ==
        lacking("resistor", "key `resistance`") +
            "\n4:33 unknown-key: `resistor` has no key `tolerance` | a tolerance follows its value, as in "
            "`{kind: resistor, resistance: 12 Ohm +- 5 %}`");
  CHECK(element("{kind: iv_curve, points: [[0 V, 0 A], [1 V, 1 A]], tolerance: 5 %}") ==
        "4:67 unknown-key: `iv_curve` has no key `tolerance` | its keys are `kind`, `name`, `points`");
}

TEST_CASE("load: the example of each kind of element is one") {
  std::size_t tried = 0;
  for_each_kind([&](const auto& kind) {
    CAPTURE(std::string(kind.example));
    CHECK(element(std::string(kind.example)) == "");
    CHECK((kind.example.find("+-") != std::string_view::npos) == kind.has_tolerance());
    ++tried;
  });
  CHECK(tried == std::variant_size_v<ElementPart>);
}

TEST_CASE("load: units and tolerances") {
  CHECK(element("{kind: resistor, resistance: 24}") ==
        "4:45 missing-unit: `24` has no unit, but `resistance` is a resistance | add the unit, as in `24 Ohm`");
  CHECK(element("{kind: resistor, resistance: 24 +- 5 %}") ==
        "4:45 missing-unit: `24` has no unit, but `resistance` is a resistance | add the unit, as in `24 Ohm`");
  CHECK(element("{kind: resistor, resistance: 24 Ohm +- 5}") ==
        "4:55 missing-unit: `5` has no unit, but `resistance` is a resistance | add the unit, as in `5 %`");
  CHECK(element("{kind: resistor, resistance: 24 V +- 5 %}") ==
        "4:45 unit-mismatch: `24 V` is a voltage, but `resistance` must be a resistance | write it as in `5 Ohm`");
  CHECK(element("{kind: resistor, resistance: 24 Ohm +- 3 V}") ==
        "4:55 unit-mismatch: `3 V` is a voltage, but `resistance` must be a resistance | write it as in `5 Ohm`");
  CHECK(element("{kind: resistor, resistance: 24 Ohm +-}") ==
        "4:45 bad-value: `` is not a resistance | write a number with its unit, as in `5 Ohm`");
  CHECK(element("{kind: resistor, resistance: 24 Ohm +/- 5 %}") == "");
  CHECK(element("{kind: resistor, resistance: \"24 Ohm \\u00b1 5 %\"}") == "");
  CHECK(element("{kind: resistor, resistance: 24 Ω ± 5}") ==
        "4:52 missing-unit: `5` has no unit, but `resistance` is a resistance | add the unit, as in `5 %`");
  CHECK(element("{kind: resistor, resistance: 24 Ohm +- -5 %}") ==
        "4:55 bad-value: `tolerance` is -5 %, but must be 0 or more");
  CHECK(element("{kind: resistor, resistance: 24 Ohm +- 100 %}") ==
        "4:55 bad-value: with its tolerance `resistance` can be as low as 0 Ohm, but it must stay above 0 | write a "
        "smaller "
        "tolerance");
  CHECK(element("{kind: resistor, resistance: 24 Ohm +- 99 %}") == "");
  CHECK(
      element("{kind: capacitor, capacitance: 1 uF, esr: 10 mOhm +- 11 mOhm}") ==
      "4:69 bad-value: with its tolerance `esr` can be as low as -1 mOhm, but it must stay 0 or more | write a smaller "
      "tolerance");
  CHECK(element("{kind: capacitor, capacitance: 1 uF, initial_voltage: 1 V +- 5 %}") ==
        "4:70 bad-value: `initial_voltage` cannot have a tolerance | write the value alone");
  CHECK(element("{kind: diode, saturation_current: 1 nA, ideality: 2 V}") ==
        "4:66 unit-mismatch: `2 V` has a unit, but `ideality` is a plain number | write the number alone");
  CHECK(
      element("{kind: lamp, rated_voltage: 12 V, rated_power: 30 W, cold_resistance: 1 Ohm, heat_capacity: 1 J}") ==
      "4:108 unit-mismatch: `1 J` is an energy, but `heat_capacity` must be a heat capacity | write it as in `5 J/K`");
  CHECK(element("{kind: resistor, resistance: .nan}").starts_with("4:45 bad-value: `.nan` is not a resistance"));
  CHECK(element("{kind: resistor, resistance: 1e3 Ohm}").starts_with("4:45 bad-value: `1e3 Ohm` is not a resistance"));
}

TEST_CASE("load: values that cannot be") {
  CHECK(element("{kind: resistor, resistance: 0 Ohm}") == "4:45 bad-value: `resistance` is 0 Ohm, but must be above 0");
  CHECK(element("{kind: resistor, resistance: -1 Ohm}") ==
        "4:45 bad-value: `resistance` is -1 Ohm, but must be above 0");
  CHECK(element("{kind: capacitor, capacitance: -1 uF}") ==
        "4:47 bad-value: `capacitance` is -1 uF, but must be above 0");
  CHECK(element("{kind: constant_power, power: -6 W, starts_at: 9 V, stops_at: 7 V, input_capacitance: 1 uF}") ==
        "4:46 bad-value: `power` is -6 W, but must be 0 or more");
  CHECK(element("{kind: constant_power, power: 6 W, starts_at: 9 V, stops_at: 9.1 V, input_capacitance: 1 uF}") ==
        "4:77 bad-value: `stops_at` is 9.1 V, but `starts_at` is 9 V | a converter stops below the voltage where it "
        "starts");
  CHECK(
      element("{kind: constant_power, power: 6 W, starts_at: 9 V +- 1 V, stops_at: 8.5 V, input_capacitance: 1 uF}") ==
      "4:84 bad-value: `stops_at` is up to 8.5 V, but `starts_at` is down to 8 V | a converter stops below the "
      "voltage where it starts");
  CHECK(element("{kind: constant_power, power: 6 W, starts_at: 9 V, stops_at: 9 V, input_capacitance: 1 uF}") ==
        "4:77 bad-value: `stops_at` is 9 V, but `starts_at` is 9 V | a converter stops below the voltage where it "
        "starts");
  CHECK(element("{kind: diode, saturation_current: 1 nA, ideality: 2, in_series: 1.5}") ==
        "4:80 bad-value: `in_series` is 1.5, but must be a whole number from 1 to 1000000");
  CHECK(element("{kind: diode, saturation_current: 1 nA, ideality: 2, temperature: -300 degC}") ==
        "4:82 bad-value: `temperature` is -300 degC, but must be above 0");
  // Lit resistance 12 V · 12 V / 30 W = 4.8 Ohm (OpenStax College Physics 2e, "Electric Power and Energy").
  CHECK(
      element("{kind: lamp, rated_voltage: 12 V, rated_power: 30 W, cold_resistance: 4.8 Ohm, heat_capacity: 1 J/K}") ==
      "4:86 bad-value: `cold_resistance` is 4.8 Ohm, but `rated_voltage² / rated_power` is 4.8 Ohm | a cold filament "
      "has less resistance than a lit one");
  CHECK(element("{kind: pulsed_current, current: 1 A, on: 2 ms, period: 1 ms}") ==
        "4:57 bad-value: `on` is 2 ms, but `period` is 1 ms | a pulse lasts no longer than its period");
  CHECK(element("{kind: pulsed_current, current: 1 A, on: 0 s, period: 1 ms}") ==
        "4:57 bad-value: `on` is 0 s, but must be above 0");
  CHECK(element("{kind: source, voltage: 1 V, resistance: 0 Ohm}") ==
        "4:57 bad-value: `resistance` is 0 Ohm, but must be above 0");
  CHECK(element("{kind: iv_curve, points: [[0 V, 0 A], [0 V, 1 A]]}") ==
        "4:55 bad-value: `points` must rise from point to point, but 0 V follows 0 V | sort the points, and give each "
        "value once");
  CHECK(element("{kind: iv_curve, points: [[1 V, 2 A], [3 V, 2 A], [5 V, 1 A]]}") ==
        "4:72 bad-value: `points` is a current that falls from 2 A to 1 A, but must be one that never falls while the "
        "voltage rises | for a device that draws less at a higher voltage write `kind: constant_power`");
  CHECK(element("{kind: iv_curve, points: [[0 V, 0 A]]}") ==
        "4:33 bad-value: `points` is a list of 1, but must be a list of 2 or more");
  CHECK(element("{kind: iv_curve, points: [[0 V, 0 A], [1 V]]}") ==
        "4:54 bad-value: `this part` is not a pair of values | write pairs, as in `[1 V, 1 A]`");
  CHECK(element("{kind: iv_curve, points: [[0 V, 0 A], [1 V, 1]]}") ==
        "4:60 missing-unit: `1` has no unit, but `points` is a current | add the unit, as in `1 A`");
  CHECK(element("{kind: load_profile, power_good: 1 V, draws: [[1 s, 1 A], [500 ms, 1 A]]}") ==
        "4:75 bad-value: `draws` must rise from point to point, but 500 ms follows 1 s | sort the points, and give "
        "each value once");
  CHECK(element("{kind: load_profile, power_good: 1 V, draws: [[-1 s, 1 A]]}") ==
        "4:63 bad-value: `draws` is -1 s, but must be 0 or more");
  CHECK(element("{kind: load_profile, power_good: 1 V, draws: []}") ==
        "4:54 bad-value: `draws` is a list of 0, but must be a list of 1 or more");
  CHECK(changed("40 mOhm +- 10 %", "-40 mOhm") == "4:11 bad-value: `wire` is -40 mOhm, but must be 0 or more");
}

TEST_CASE("load: mistakes in faults") {
  CHECK(changed("rail: logic, at", "rail: logik, at") ==
        "21:19 unknown-name: there is no rail in this file named `logik` | write `logic`");
  CHECK(changed("nominal + 5 s", "nominal + 5") ==
        "21:45 missing-unit: `5` has no unit, but `at` is a time | add the unit, as in `5 ms`");
  CHECK(changed("nominal + 5 s", "nominal + -5 s") == "21:45 bad-value: `at` is -5 s, but must be 0 or more");
  CHECK(changed("nominal + 5 s", "nominal - 5") ==
        "21:45 missing-unit: `5` has no unit, but `at` is a time | add the unit, as in `5 ms`");
  std::string before(kFull);
  before.replace(before.find("nominal + 5 s"), 13, "power-up - 5 s");
  const Outcome outcome = read(before);
  REQUIRE(outcome.load);
  CHECK(outcome.load->faults[0].mark == "power-up");
  CHECK(outcome.load->faults[0].after == -std::chrono::seconds(5));
  CHECK(changed("nominal + 5 s", "nominal + 5 V") ==
        "21:45 unit-mismatch: `5 V` is a voltage, but `at` must be a time | write it as in `5 ms`");
  CHECK(changed("at: 30 s", "at: nominal") ==
        "22:29 bad-value: `nominal` is not a time | write a time, `mark NAME`, or `mark NAME + 5 s`");
  CHECK(changed("at: 30 s", "at: -1 s") == "22:29 bad-value: `at` is -1 s, but must be 0 or more");
  CHECK(changed("at: 30 s", "at: 0.5 ns") ==
        "22:29 bad-value: `at` is 500 ps, but must be a whole number of nanoseconds");
  CHECK(changed("mark all rails up", "mark + 5 s") ==
        "23:28 bad-value: `mark + 5 s` is not an instant | write the mark's name, as in `mark nominal + 5 s`");
  CHECK(changed("becomes: [{kind: resistor, resistance: 50 mOhm}]", "becomes: [{kind: resistor, resistance: 50}]")
            .starts_with("21:89 missing-unit: `50` has no unit"));
  CHECK(changed("becomes: []", "becomes: open") == "22:44 bad-value: `becomes` is a text, but must be a list");
}

TEST_CASE("load: names and files") {
  CHECK(changed("  radio:\n", "  radio 1:\n").starts_with("18:3 bad-value: `radio 1` cannot be a name"));
  CHECK(joined(read("bench: x\nsupplies: {}\n").findings) ==
        "1:1 bad-value: this is a bench file, but a load file is needed | a load file begins with `load:` and a title");
  CHECK(joined(read("").findings) == "1:1 syntax: this file is empty");
  CHECK(changed("load: Everything", "load: x\nload: Everything")
            .starts_with("2:1 duplicate-key: the key `load` is given twice (1:1 first given here)"));
  std::string many = "load: x\nrails:\n  r:\n    elements:\n";
  for (int i = 0; i < 257; ++i) many += "      - {kind: resistor, resistance: 1 Ohm}\n";
  CHECK(joined(read(many).findings) == "261:9 too-large: `elements` has 257 parts, more than 256");
}

TEST_CASE("load: damaged files give findings with places inside the text") {
  for (std::uint32_t number = 0; number < 4000; ++number) {
    CAPTURE(number);
    SourceSet sources;
    FindingSink sink;
    const FileId file = sources.add("l.yaml", test::damaged(std::string(kFull), number));
    const bool was_read = read_load(sources, file, sink).has_value();
    REQUIRE(test::broken_promise(sources, sink, was_read) == "");
  }
}

}  // namespace rampart
