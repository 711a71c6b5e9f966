#include <algorithm>
#include <cmath>
#include <cstdio>
#include <ctime>
#include <functional>
#include <string>

#include "tests/support/load_elements.h"
#include "tests/support/ode_reference.h"
#include "tests/support/simulation_case.h"

// What a row costs that is played into a load, on stairs of 10 ms. The same circuit is solved by SUNDIALS CVODE in the
// same run, so that the machine and what else it does drop out.
using namespace rampart;
using namespace rampart::test;

namespace {

constexpr int kTries = 3;
constexpr int kPasses = 10;
constexpr double kRowsAPass = 1100;
constexpr double kWire = 50e-3;

double processor_time() {
  return static_cast<double>(std::clock()) / CLOCKS_PER_SEC;
}

// The least of a few tries, us a row.
double row_cost(double rows, const std::function<void()>& work) {
  double least = 0;
  for (int i = 0; i < kTries; ++i) {
    const double begin = processor_time();
    work();
    const double cost = processor_time() - begin;
    least = i == 0 ? cost : std::min(least, cost);
  }
  return least / rows * 1e6;
}

// Up and down by stairs: each pass has 1,100 rows, of which none is like another.
double simulated(const std::vector<LoadElement>& load, const char* limit_text, int passes) {
  SupplySpec supply = fine_supply(Interpolation::Hold);
  supply.minimum_step = "10 ms";
  supply.resolution = "1 ms";
  SimulationCase plant({supply});
  plant.rail(load, kWire);
  Program program = {limit(0, limit_text), on(0)};
  for (int i = 0; i < passes; ++i) {
    const std::string top = std::to_string(9000 - 7 * i) + " mV";
    program.push_back(ramp(0, top.c_str(), "5500 ms"));
    program.push_back(ramp(0, "0 V", "5500 ms"));
  }
  return row_cost(kRowsAPass * passes, [&] { (void)plant.run(program); });
}

// Three diodes in a row, 3 Ohm in series, beside 100 uF with 100 mOhm: the circuit below in the elements of a load.
constexpr double kSaturation = 1e-18;
constexpr double kScale = 3 * 2 * 1.380649e-23 / 1.602176634e-19 * 300;
constexpr double kSeries = 3;
constexpr double kCapacitance = 100e-6;
constexpr double kEsr = 0.1;

// CVODE at a tolerance of 1e-9; a capacitor's voltage and the energy are its states, and the junction's voltage is
// found by Newton's method from the last one.
double by_cvode(int passes) {
  return row_cost(kRowsAPass * passes, [passes] {
    OdeReference solver({0.0, 0.0}, 1e-9, 1e-11);
    double across = 0;
    double drive = 0;
    const auto rates = [&](double, const OdeReference::Values& state, OdeReference::Values& result) {
      double diode = 0;
      double port = 0;
      double wire = 0;
      for (int i = 0; i < 100; ++i) {
        diode = kSaturation * std::expm1(across / kScale);
        const double slope = (diode + kSaturation) / kScale;
        port = across + kSeries * diode;
        wire = (drive - port) / kWire;
        const double excess = diode + (port - state[0]) / kEsr - wire;
        const double change = excess / (slope + (1 + kSeries * slope) * (1 / kEsr + 1 / kWire));
        across -= change;
        if (std::abs(change) <= 1e-15 * std::abs(across)) break;
      }
      result[0] = (port - state[0]) / kEsr / kCapacitance;
      result[1] = drive * wire;
    };
    const auto none = [](double, const OdeReference::Values&, OdeReference::Values&) {};
    double until = 0;
    for (int i = 0; i < passes; ++i) {
      const double top = (9000 - 7 * i) * 1e-3;
      for (int row = 1; row <= 1100; ++row) {
        drive = top * (row <= 550 ? row / 550.0 : (1100 - row) / 550.0);
        until += 10e-3;
        solver.advance(until, rates, none, 0);
      }
    }
  });
}

std::vector<LoadElement> lamps(int count) {
  std::vector<LoadElement> result;
  for (int i = 0; i < count; ++i) {
    LampElement element;
    element.rated_voltage = exactly(12);
    element.rated_power = exactly(10.0 / count);
    element.cold_resistance = exactly(1.05 * count);
    element.heat_capacity = exactly(20e-3 / count * (1 + 0.001 * i));
    result.push_back({{}, element});
  }
  return result;
}

}  // namespace

int main() {
  const double cvode = by_cvode(kPasses);
  const double diodes =
      simulated({diode(kSaturation, 2, kSeries, 300, 3), capacitor(kCapacitance, kEsr)}, "1 A", kPasses);
  std::printf("%-58s %9.1f us\n", "diode string and capacitor, CVODE at 1e-9, a row", cvode);
  std::printf("%-58s %9.1f us  %5.2f of CVODE\n", "the same, simulated", diodes, diodes / cvode);
  const auto plain = [](const char* name, double cost) { std::printf("%-58s %9.1f us\n", name, cost); };
  plain("diode string alone", simulated({diode(kSaturation, 2, kSeries, 300, 3)}, "1 A", kPasses));
  plain("constant current and capacitor",
        simulated({constant_current(0.4, 2), capacitor(470e-6, 30e-3)}, "1 A", kPasses));
  plain("curve and capacitor",
        simulated({curve({{0, 0}, {2, 0.01}, {4, 0.3}, {10, 0.4}}), capacitor(470e-6, 60e-3)}, "1 A", kPasses));
  plain("resistor and capacitor: linear", simulated({resistor(20), capacitor(470e-6, 60e-3)}, "1 A", kPasses));
  const double one = simulated(lamps(1), "2 A", 1);
  const double many = simulated(lamps(256), "2 A", 1);
  plain("one lamp", one);
  std::printf("%-58s %9.1f us  %5.2f of 256 times one\n", "256 lamps", many, many / one / 256);
  return 0;
}
