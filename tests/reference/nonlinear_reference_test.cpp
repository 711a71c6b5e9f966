#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "tests/support/load_elements.h"
#include "tests/support/near.h"
#include "tests/support/reference_case.h"

using namespace rampart;
using namespace rampart::test;

// Loads that are not linear against SUNDIALS CVODE with root finding: energy, charge, time in constant current, final
// voltage and time of trip agree to 1e-6. The elements are written down here a second time.
namespace {

struct CurrentSink final : ReferenceElement {
  CurrentSink(double amps, double from) : amps_(amps), from_(from) {}
  double current(double, double v, const double*) const override {
    return amps_ * std::clamp((v - from_) / 1e-3, 0.0, 1.0);
  }
  double amps_, from_;
};

// By bisection on the junction's voltage.
struct Diodes final : ReferenceElement {
  Diodes(double saturation, double scale, double resistance)
      : saturation_(saturation), scale_(scale), resistance_(resistance) {}
  double through(double across) const { return saturation_ * std::expm1(std::min(across / scale_, 200.0)); }
  double current(double, double v, const double*) const override {
    double low = std::min(v, 0.0);
    double high = std::max(v, 0.0);
    for (int i = 0; i < 200; ++i) {
      const double middle = (low + high) / 2;
      if (middle == low || middle == high) break;
      (middle + resistance_ * through(middle) > v ? high : low) = middle;
    }
    return v > 0.1 ? (v - low) / resistance_ : through(low);
  }
  double saturation_, scale_, resistance_;
};

// A diode with nothing in series.
struct Junction final : ReferenceElement {
  Junction(double saturation, double scale) : saturation_(saturation), scale_(scale) {}
  double current(double, double v, const double*) const override { return saturation_ * std::expm1(v / scale_); }
  double saturation_, scale_;
};

// In kelvins, 12 V and 30 W, 0.35 Ohm cold.
struct Filament final : ReferenceElement {
  explicit Filament(double heat_capacity) : heat_capacity_(heat_capacity) {
    const double hot = 300 * std::pow(4.8 / 0.35, 1 / 1.2);
    radiation_ = 30 / (std::pow(hot, 4) - std::pow(300, 4));
  }
  std::size_t states() const override { return 1; }
  void start(double* state) const override { state[0] = 300; }
  double resistance(double t) const { return 0.35 * std::pow(t / 300, 1.2); }
  double current(double, double v, const double* state) const override { return v / resistance(state[0]); }
  void rates(double, double v, const double* state, double* rates) const override {
    const double t = state[0];
    rates[0] = (v * v / resistance(t) - radiation_ * (std::pow(t, 4) - std::pow(300, 4))) / heat_capacity_;
  }
  double heat_capacity_, radiation_;
};

struct PowerSink final : ReferenceElement {
  PowerSink(double power, double starts, double stops, double capacitance, double soft)
      : power_(power), starts_(starts), stops_(stops), capacitance_(capacitance), soft_(soft) {}
  double current(double t, double v, const double*) const override {
    if (!running_) return 0;
    const double share = soft_ > 0 ? std::min((t - since_) / soft_, 1.0) : 1;
    return share * power_ / std::max(v, stops_ / 2);
  }
  double port_capacitance() const override { return capacitance_; }
  bool switches() const override { return true; }
  double switch_root(double, double v) const override { return running_ ? v - stops_ : starts_ - v; }
  void switch_now(double t) override {
    running_ = !running_;
    since_ = t;
  }
  double power_, starts_, stops_, capacitance_, soft_;
  bool running_ = false;
  double since_ = 0;
};

struct Curve final : ReferenceElement {
  explicit Curve(std::vector<std::pair<double, double>> points) : points_(std::move(points)) {}
  double current(double, double v, const double*) const override {
    double amps = points_[0].second;
    for (std::size_t i = 0; i + 1 < points_.size(); ++i) {
      const auto& [v0, i0] = points_[i];
      const auto& [v1, i1] = points_[i + 1];
      const double begin = i == 0 ? v : std::min(v, v1);
      const double reached = i + 2 == points_.size() ? std::max(v, v0) : std::clamp(begin, v0, v1);
      amps += (i1 - i0) / (v1 - v0) * (reached - v0);
    }
    return amps;
  }
  std::vector<std::pair<double, double>> points_;
};

struct Suppressor final : ReferenceElement {
  Suppressor(double breakdown, double resistance) : breakdown_(breakdown), resistance_(resistance) {}
  double current(double, double v, const double*) const override {
    const double beyond = std::max(std::abs(v) - breakdown_, 0.0);
    return (v < 0 ? -beyond : beyond) / resistance_;
  }
  double breakdown_, resistance_;
};

struct Pulses final : ReferenceElement {
  Pulses(double amps, double on, double period, double rest) : amps_(amps), on_(on), period_(period), rest_(rest) {}
  double current(double, double v, const double*) const override {
    return (high_ ? amps_ : rest_) * std::clamp(v / 1e-3, 0.0, 1.0);
  }
  bool switches() const override { return true; }
  double next() const { return static_cast<double>(pulse_) * period_ + (high_ ? on_ : period_); }
  double switch_root(double t, double) const override { return next() - t; }
  void switch_now(double) override {
    if (!high_) ++pulse_;
    high_ = !high_;
  }
  double amps_, on_, period_, rest_;
  bool high_ = true;
  int pulse_ = 0;
};

// A first current from power-good on, a second one some time later.
struct Waking final : ReferenceElement {
  Waking(double good, double first, double later, double after)
      : good_(good), first_(first), later_(later), after_(after) {}
  double current(double, double, const double*) const override { return step_ == 0 ? 0 : step_ == 1 ? first_ : later_; }
  bool switches() const override { return true; }
  double switch_root(double t, double v) const override {
    return step_ == 0 ? good_ - v : step_ == 1 ? since_ + after_ - t : 1;
  }
  void switch_now(double t) override {
    ++step_;
    since_ = t;
  }
  double good_, first_, later_, after_;
  int step_ = 0;
  double since_ = 0;
};

template <class Element, class... Values>
std::shared_ptr<ReferenceElement> reference(Values... values) {
  return std::make_shared<Element>(values...);
}

constexpr double kVoltsAt300K = 1.380649e-23 / 1.602176634e-19 * 300;
const std::vector<std::pair<double, double>> kPoints = {{0, 0}, {2, 0.01}, {4, 0.3}, {10, 0.4}};

}  // namespace

TEST_CASE("loads that are not linear agree with CVODE") {
  const std::vector<ReferenceCase> cases = {
      {"string of light-emitting diodes beside a capacitor",
       {diode(1e-18, 2, 3, 300, 3), capacitor(100e-6, 0.1)},
       {reference<Diodes>(1e-18, 6 * kVoltsAt300K, 3.0), reference_capacitor(100e-6, 0.1)},
       50e-3,
       "400 mA",
       {{"9 V", "10 ms", "50 ms"}, {"5 V", "10 ms", "50 ms"}}},
      {"diode string alone, in and out of its limit",
       {diode(76.9e-9, 1.45, 42.2e-3, 300, 2)},
       {reference<Diodes>(76.9e-9, 2.9 * kVoltsAt300K, 42.2e-3)},
       0.2,
       "1 A",
       {{"3 V", "20 ms", "10 ms"}, {"0 V", "20 ms", "10 ms"}}},
      {"lamp into a limit", {lamp()}, {reference<Filament>(2e-3)}, 20e-3, "10 A", {{"12 V", "0 s", "500 ms"}}},
      {"lamp that is still warm at the second step",
       {lamp(20e-3), resistor(100)},
       {reference<Filament>(20e-3), reference_resistor(100)},
       20e-3,
       "8 A",
       {{"12 V", "0 s", "300 ms"}, {"1 V", "0 s", "200 ms"}, {"12 V", "0 s", "300 ms"}}},
      {"cold lamp trips the fuse",
       {lamp(20e-3)},
       {reference<Filament>(20e-3)},
       20e-3,
       "8 A",
       {{"12 V", "0 s", "500 ms"}},
       "30 ms"},
      {"converter starts on a ramp",
       {converter(6, 9, 7.5, 220e-6), resistor(2200)},
       {reference<PowerSink>(6.0, 9.0, 7.5, 220e-6, 0.0), reference_resistor(2200)},
       0.1,
       "1.5 A",
       {{"12 V", "30 ms", "50 ms"}, {"0 V", "30 ms", "50 ms"}}},
      {"converter hunts under its limit",
       {converter(6, 9, 7.5, 220e-6)},
       {reference<PowerSink>(6.0, 9.0, 7.5, 220e-6, 0.0)},
       0.1,
       "300 mA",
       {{"12 V", "0 s", "40 ms"}}},
      {"converter with a soft start",
       {converter(10, 9, 7, 100e-6, 20e-3), capacitor(1000e-6, 50e-3)},
       {reference<PowerSink>(10.0, 9.0, 7.0, 100e-6, 20e-3), reference_capacitor(1000e-6, 50e-3)},
       50e-3,
       "2 A",
       {{"12 V", "0 s", "100 ms"}}},
      {"constant current beside a large capacitor, held on the way down",
       {constant_current(0.4, 2), capacitor(2200e-6, 30e-3)},
       {reference<CurrentSink>(0.4, 2.0), reference_capacitor(2200e-6, 30e-3)},
       40e-3,
       "1 A",
       {{"10 V", "10 ms", "50 ms"}, {"1 V", "10 ms", "200 ms"}}},
      {"curve of straight pieces",
       {curve(kPoints), capacitor(470e-6, 60e-3)},
       {reference<Curve>(kPoints), reference_capacitor(470e-6, 60e-3)},
       0.5,
       "350 mA",
       {{"8 V", "0 s", "50 ms"}, {"3 V", "0 s", "50 ms"}}},
      {"coil and diodes",
       {inductor(20e-3, 5), diode(76.9e-9, 1.45, 0.5, 300, 4)},
       {reference_inductor(20e-3, 5), reference<Diodes>(76.9e-9, 5.8 * kVoltsAt300K, 0.5)},
       0.3,
       "2 A",
       {{"4 V", "5 ms", "20 ms"}, {"2 V", "5 ms", "20 ms"}}},
      {"pulsed current from a bulk capacitor",
       {pulses(1.5, 2e-3, 5e-3, 0.05), capacitor(1e-3, 20e-3)},
       {reference<Pulses>(1.5, 2e-3, 5e-3, 0.05), reference_capacitor(1e-3, 20e-3)},
       0.1,
       "1 A",
       {{"5 V", "20 ms", "78 ms"}}},
      {"clamp above its breakdown voltage, into the limit",
       {clamp(6.8, 0.4), capacitor(220e-6, 50e-3), resistor(47)},
       {reference<Suppressor>(6.8, 0.4), reference_capacitor(220e-6, 50e-3), reference_resistor(47)},
       0.1,
       "2 A",
       {{"9 V", "10 ms", "30 ms"}, {"7.5 V", "10 ms", "10 ms"}, {"5 V", "10 ms", "30 ms"}}},
      {"load that wakes up at power-good",
       {load_profile(4, {{0, 0.02}, {50e-3, 0.4}}), capacitor(100e-6, 50e-3)},
       {reference<Waking>(4.0, 0.02, 0.4, 50e-3), reference_capacitor(100e-6, 50e-3)},
       0.1,
       "1 A",
       {{"5 V", "100 ms", "100 ms"}}},
      {"wire drop: a lamp at the end of 0.5 Ohm",
       {lamp(), constant_current(0.5, 3)},
       {reference<Filament>(2e-3), reference<CurrentSink>(0.5, 3.0)},
       0.5,
       "6 A",
       {{"12 V", "50 ms", "300 ms"}}},
  };
  for (const ReferenceCase& example : cases) compare(example);
}

// What a junction takes from a capacitor far above its forward voltage is gone within 1e-17 s, so the first steps are
// damped ones. Their losses are by construction what the capacitor gives: no balance checks them.
TEST_CASE("where steps are damped loads agree with CVODE") {
  const double scale = 1.5 * kVoltsAt300K;
  const std::vector<ReferenceCase> cases = {
      {"capacitor charged far above the diode beside it",
       {capacitor(1e-6, 0, 2), diode(1e-12, 1.5, 0, 300)},
       {reference_capacitor(1e-6, 0, 2), reference<Junction>(1e-12, scale)},
       50e-3,
       "400 mA",
       {{"1 V", "0 s", "1 ms"}, {"200 mV", "0 s", "1 ms"}}},
      {"small capacitor, a diode and a large capacitor with series resistance",
       {capacitor(1e-9, 0, 1.6), diode(1e-12, 1.5, 0, 300), capacitor(100e-6, 0.2)},
       {reference_capacitor(1e-9, 0, 1.6), reference<Junction>(1e-12, scale), reference_capacitor(100e-6, 0.2)},
       50e-3,
       "400 mA",
       {{"1 V", "0 s", "2 ms"}, {"500 mV", "0 s", "2 ms"}}},
  };
  for (const ReferenceCase& example : cases) compare(example);
}

// C dv/dt = -I_s exp(v / s) is solved by exp(-v / s) = exp(-v0 / s) + I_s t / (s C), Shockley's equation without its 1.
TEST_CASE("a junction takes a capacitor down by the logarithm of time, wherever it began") {
  const double scale = 1.5 * kVoltsAt300K;
  for (const double start : {2.0, 3.0, 5.0}) {
    CAPTURE(start);
    SimulationCase plant({fine_supply(Interpolation::Hold)});
    plant.rail({capacitor(1e-6, 0, start), diode(1e-12, 1.5, 0, 300)});
    const double left = plant.run({dwell("10 us")}).rails[0].final_voltage_V;
    const double found = -scale * std::log(std::exp(-start / scale) + 1e-12 * 10e-6 / (scale * 1e-6));
    CHECK(left == relative(found, 1e-6));
  }
}
