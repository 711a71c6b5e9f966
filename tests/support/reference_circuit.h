#pragma once

#include <memory>
#include <optional>
#include <vector>

// A rail written down a second time, as plainly as can be, for CVODE: elements as functions of the port's voltage,
// Kirchhoff's law solved by bisection, modes switched at CVODE's roots. Shares no code with the simulation.
namespace rampart::test {

struct ReferenceElement {
  virtual ~ReferenceElement() = default;
  [[nodiscard]] virtual std::size_t states() const { return 0; }
  virtual void start(double* /*state*/) const {}
  // Into the element at port voltage v.
  [[nodiscard]] virtual double current(double t, double v, const double* state) const = 0;
  virtual void rates(double /*t*/, double /*v*/, const double* /*state*/, double* /*rates*/) const {}
  // Capacitance at the port itself.
  [[nodiscard]] virtual double port_capacitance() const { return 0; }
  [[nodiscard]] virtual double port_voltage() const { return 0; }
  // Where the element changes its way: a root function, and what happens there.
  [[nodiscard]] virtual bool switches() const { return false; }
  [[nodiscard]] virtual double switch_root(double /*t*/, double /*v*/) const { return 1; }
  virtual void switch_now(double /*t*/) {}
};

using Elements = std::vector<std::shared_ptr<ReferenceElement>>;

[[nodiscard]] std::shared_ptr<ReferenceElement> reference_resistor(double resistance);
[[nodiscard]] std::shared_ptr<ReferenceElement> reference_capacitor(double capacitance, double esr, double voltage = 0);
[[nodiscard]] std::shared_ptr<ReferenceElement> reference_inductor(double inductance, double resistance);
[[nodiscard]] std::shared_ptr<ReferenceElement> reference_source(double voltage, double resistance);

// One stretch of straight setpoint.
struct ReferencePiece {
  double length = 0;
  double from = 0;  // V
  double to = 0;
  double limit = 0;
  bool on = true;
};

struct ReferenceAnswer {
  double energy = 0;
  double charge = 0;
  double cc_time = 0;
  double port_voltage = 0;
  double current = 0;
  std::optional<double> fuse_time;
  int cc_entries = 0;
};

struct ReferenceCircuit {
  double wire = 0;  // > 0, or a capacitance at the port in every mode but constant voltage
  Elements elements;
  std::optional<double> fuse_delay;
  double relative = 1e-11;
  double absolute = 1e-13;

  // A fuse that trips ends the run there.
  [[nodiscard]] ReferenceAnswer play(const std::vector<ReferencePiece>& pieces) const;
};

}  // namespace rampart::test
