#include "tests/support/reference_circuit.h"

#include <algorithm>
#include <cmath>

#include "tests/support/ode_reference.h"

namespace rampart::test {
namespace {

struct Resistor final : ReferenceElement {
  explicit Resistor(double r) : r_(r) {}
  double current(double, double v, const double*) const override { return v / r_; }
  double r_;
};

struct Capacitor final : ReferenceElement {
  Capacitor(double c, double esr, double voltage) : c_(c), esr_(esr), voltage_(voltage) {}
  std::size_t states() const override { return esr_ > 0 ? 1 : 0; }
  void start(double* state) const override {
    if (esr_ > 0) state[0] = voltage_;
  }
  double current(double, double v, const double* state) const override { return esr_ > 0 ? (v - state[0]) / esr_ : 0; }
  void rates(double, double v, const double* state, double* rates) const override {
    if (esr_ > 0) rates[0] = (v - state[0]) / esr_ / c_;
  }
  double port_capacitance() const override { return esr_ > 0 ? 0 : c_; }
  double port_voltage() const override { return voltage_; }
  double c_, esr_, voltage_;
};

struct Inductor final : ReferenceElement {
  Inductor(double l, double r) : l_(l), r_(r) {}
  std::size_t states() const override { return 1; }
  void start(double* state) const override { state[0] = 0; }
  double current(double, double, const double* state) const override { return state[0]; }
  void rates(double, double v, const double* state, double* rates) const override {
    rates[0] = (v - r_ * state[0]) / l_;
  }
  double l_, r_;
};

struct Source final : ReferenceElement {
  Source(double v, double r) : v_(v), r_(r) {}
  double current(double, double v, const double*) const override { return (v - v_) / r_; }
  double v_, r_;
};

// Root functions that start at zero would be lost in rounding: each limit lies so much (V or A) farther out.
constexpr double kLift = 1e-10;

enum class Mode { Off, Voltage, Current, Holding };

// What the equations need at one instant of one run.
struct Run {
  const ReferenceCircuit& circuit;
  double capacitance = 0;
  std::size_t port = 0;  // its place in the state, with a capacitance
  std::vector<std::size_t> places;
  Mode mode = Mode::Off;
  double begin = 0;
  ReferencePiece piece;

  double setpoint(double t) const {
    return piece.from + (piece.to - piece.from) * (piece.length > 0 ? (t - begin) / piece.length : 1);
  }

  double load_current(double t, double v, const double* state) const {
    double sum = 0;
    for (std::size_t i = 0; i < circuit.elements.size(); ++i) {
      sum += circuit.elements[i]->current(t, v, state + places[i]);
    }
    return sum;
  }

  // The supply's current at port voltage v.
  double supply_current(double t, double v) const {
    if (mode == Mode::Voltage) return (setpoint(t) - v) / circuit.wire;
    return mode == Mode::Current ? piece.limit : 0;
  }

  double port_voltage(double t, const double* state) const {
    if (capacitance > 0) return state[port];
    // What the load takes rises with the voltage, what the supply gives does not.
    double low = -1e4;
    double high = 1e4;
    for (int i = 0; i < 200 && high - low > 1e-15 * std::max(1.0, std::abs(low)); ++i) {
      const double middle = (low + high) / 2;
      if (middle == low || middle == high) break;
      (load_current(t, middle, state) > supply_current(t, middle) ? high : low) = middle;
    }
    return (low + high) / 2;
  }
};

}  // namespace

std::shared_ptr<ReferenceElement> reference_resistor(double resistance) {
  return std::make_shared<Resistor>(resistance);
}
std::shared_ptr<ReferenceElement> reference_capacitor(double capacitance, double esr, double voltage) {
  return std::make_shared<Capacitor>(capacitance, esr, voltage);
}
std::shared_ptr<ReferenceElement> reference_inductor(double inductance, double resistance) {
  return std::make_shared<Inductor>(inductance, resistance);
}
std::shared_ptr<ReferenceElement> reference_source(double voltage, double resistance) {
  return std::make_shared<Source>(voltage, resistance);
}

ReferenceAnswer ReferenceCircuit::play(const std::vector<ReferencePiece>& pieces) const {
  Run run{*this, 0, 0, {}, Mode::Off, 0, {}};
  std::vector<double> state = {0, 0};  // energy and charge come first
  double port_start = 0;
  for (const auto& element : elements) {
    run.places.push_back(state.size());
    state.resize(state.size() + element->states());
    element->start(state.data() + run.places.back());
    run.capacitance += element->port_capacitance();
    if (element->port_capacitance() > 0) port_start = element->port_voltage();
  }
  run.port = state.size();
  if (run.capacitance > 0) state.push_back(port_start);
  OdeReference solver(state, relative, absolute);

  std::vector<std::shared_ptr<ReferenceElement>> switching;
  for (const auto& element : elements) {
    if (element->switches()) switching.push_back(element);
  }
  const auto rates = [&](double t, const std::vector<double>& y, std::vector<double>& rate) {
    const double v = run.port_voltage(t, y.data());
    const double i = run.supply_current(t, v);
    rate[0] = (v + wire * i) * i;
    rate[1] = i;
    for (std::size_t k = 0; k < elements.size(); ++k) {
      elements[k]->rates(t, v, y.data() + run.places[k], rate.data() + run.places[k]);
    }
    if (run.capacitance > 0) rate[run.port] = (i - run.load_current(t, v, y.data())) / run.capacitance;
  };
  const auto roots = [&](double t, const std::vector<double>& y, std::vector<double>& values) {
    const double v = run.port_voltage(t, y.data());
    const double i = run.supply_current(t, v);
    values[0] = run.mode == Mode::Voltage ? run.piece.limit - i + kLift : 1;
    values[1] = run.mode == Mode::Voltage ? i + kLift : 1;
    values[2] = run.mode == Mode::Current ? run.setpoint(t) - v - wire * i + kLift : 1;
    values[3] = run.mode == Mode::Holding ? v - run.setpoint(t) + kLift : 1;
    for (std::size_t k = 0; k < switching.size(); ++k) values[4 + k] = switching[k]->switch_root(t, v);
  };

  ReferenceAnswer answer;
  double cc_since = 0;
  const auto enter = [&](Mode mode) {
    const double now = solver.time();
    if (mode == Mode::Current && run.mode != Mode::Current) {
      cc_since = now;
      ++answer.cc_entries;
    }
    if (run.mode == Mode::Current && mode != Mode::Current) answer.cc_time += now - cc_since;
    run.mode = mode;
  };
  for (const ReferencePiece& piece : pieces) {
    run.piece = piece;
    run.begin = solver.time();
    const double end = run.begin + piece.length;
    if (!piece.on) {
      enter(Mode::Off);
    } else {
      const Mode before = run.mode;
      run.mode = Mode::Voltage;
      const double v = run.port_voltage(run.begin, solver.state().data());
      const double i = run.supply_current(run.begin, v);
      run.mode = before;
      enter(i > piece.limit ? Mode::Current : i < 0 ? Mode::Holding : Mode::Voltage);
    }
    while (solver.time() < end) {
      double until = end;
      if (fuse_delay && run.mode == Mode::Current) until = std::min(until, cc_since + *fuse_delay);
      const int root = solver.advance(until, rates, roots, 4 + switching.size());
      if (root == 0) enter(Mode::Current);
      if (root == 1) enter(Mode::Holding);
      if (root == 2 || root == 3) enter(Mode::Voltage);
      if (root >= 4) switching[static_cast<std::size_t>(root - 4)]->switch_now(solver.time());
      if (fuse_delay && run.mode == Mode::Current && solver.time() >= cc_since + *fuse_delay && until < end) {
        answer.fuse_time = solver.time();
        enter(Mode::Off);
        break;
      }
    }
    if (answer.fuse_time) break;
  }
  answer.port_voltage = run.port_voltage(solver.time(), solver.state().data());
  answer.current = run.supply_current(solver.time(), answer.port_voltage);
  enter(Mode::Off);
  answer.energy = solver.state()[0];
  answer.charge = solver.state()[1];
  return answer;
}

}  // namespace rampart::test
