#pragma once

#include <array>
#include <memory>
#include <optional>
#include <vector>

#include "runtime/circuit/circuit.h"
#include "runtime/circuit/owned.h"
#include "runtime/circuit/stiff_step.h"
#include "runtime/load/elements/branch.h"

namespace rampart::circuit {

// What the courses may be wrong by, when two values are compared.
inline constexpr double kTie = 1e-9;

struct BranchParts {
  double wire = 0;
  double output_capacitance = 0;
  double output_voltage = 0;  // what that is charged to at first
  std::optional<double> off_resistance;
  std::vector<Owned<Branch>> branches;
  std::vector<std::size_t> elements;  // of each branch: its place in the load's list
};

// An output with a load of any parts: each step of an error-controlled method gives a piece of polynomials.
//
// The unknown is the port's voltage. Where a capacitance holds it, it is a state; else Kirchhoff's law gives it at
// every instant, with currents that rise with the voltage and so have one solution.
class BranchCircuit final : public Circuit {
 public:
  BranchCircuit(BranchParts parts, OutputTraits traits);

  [[nodiscard]] std::unique_ptr<Circuit> copy() const override { return std::make_unique<BranchCircuit>(*this); }
  void settle(std::optional<Mode> expected = std::nullopt) override;
  void follow(Follow what, double least) override;
  void plan(double length) override;
  void cut(double length) override;
  void advance() override;
  [[nodiscard]] bool change_is_timed() const override { return timed_; }
  [[nodiscard]] std::vector<double> periods() const override;
  void read_running(std::vector<RunningPart>& parts) const override;

  [[nodiscard]] double stored_energy() const override;
  void add_losses(std::vector<double>& elements) const override;
  [[nodiscard]] double held_by(std::size_t element) const override;
  [[nodiscard]] double wire() const override { return parts_.wire; }
  [[nodiscard]] Snapshot snapshot(double volts, double amps) const override;

 protected:
  [[nodiscard]] Reading read(Quantity quantity, Mode mode) const override;
  [[nodiscard]] std::optional<double> held_voltage() const override;
  void hold(double voltage) override;
  [[nodiscard]] std::size_t first_inductor() const override;
  [[nodiscard]] std::optional<double> held_terminals() const override;
  [[nodiscard]] bool compensates() const override { return sensed() && terminal_index_ && port_index_; }
  [[nodiscard]] double port_capacitance() const override { return port_capacitance_; }
  [[nodiscard]] bool has_inductors() const override { return has_inductors_; }
  [[nodiscard]] double current_noise() const override;
  [[nodiscard]] Mode decide_off(std::optional<Mode> expected) const override;

 private:
  // What the network does at one instant.
  struct Point {
    double terminal = 0;
    double wire_current = 0;
    double regulator = 0;
    double port = 0;
    double port_rate = 0;
    double terminal_rate = 0;
  };

  // Sizes of a piece, which its errors are measured against.
  struct Scales {
    double volts = 0;
    double amps = 0;
    double power = 0;
    double stored = 0;  // J
  };
  // How some of that changes with each state.
  struct PointSlopes {
    std::vector<double> port;
    std::vector<double> wire_current;
    std::vector<double> port_flow;  // into the branches
  };

  [[nodiscard]] const double* own(const double* state, std::size_t branch) const { return state + offsets_[branch]; }
  [[nodiscard]] Flow flow(double volts, const double* state) const;
  // How fast that current changes where the voltage does so at a given rate, A/s.
  [[nodiscard]] double flow_rate(double volts, double volts_rate, const double* state) const;
  [[nodiscard]] double untaken_voltage(double current) const;
  [[nodiscard]] double ungiven_voltage() const;
  // The port's voltage where flow(v) + conductance * v = current, looked for from `guess`, which then is that voltage:
  // what is asked for next is near.
  [[nodiscard]] double solve_port(double current, double conductance, const double* state, double& guess) const;
  // `drive` is the imposed voltage or current; `guess` is for the port's voltage.
  [[nodiscard]] Point point(Mode mode, double drive, double slope, const double* state, double& guess) const;
  void rates(Mode mode, double slope, const double* state, double* rates, double& guess) const;
  void rates_at(const Point& now, double slope, const double* state, double* rates) const;
  void rate_slopes(Mode mode, double slope, const double* state, StateSlopes& slopes, double& guess) const;
  [[nodiscard]] PointSlopes point_slopes(Mode mode, const Point& at, const double* state) const;
  using NodePoints = std::array<Point, kNodes>;
  using NodeLosses = std::vector<std::array<double, kNodes>>;
  void fill_piece(double length);
  void fill_damped_losses(const NodePoints& points, NodeLosses& losses) const;
  void settle_ways(std::optional<Mode> expected);
  void take_step(double longest);
  [[nodiscard]] double corner_noise(double volts, const double* state) const;
  [[nodiscard]] bool gives_current() const;
  [[nodiscard]] double roughness() const;
  [[nodiscard]] double misfit() const;
  [[nodiscard]] double misfit_at(double share, const Scales& scales) const;
  [[nodiscard]] double unbalance_at(double share, const Point& at, const std::vector<double>& state) const;
  [[nodiscard]] double wrong_loss_at(double share, double port, const std::vector<double>& state) const;
  void end_piece_at(double share);
  [[nodiscard]] double first_edge() const;
  [[nodiscard]] double first_corner() const;
  [[nodiscard]] double next_timed() const;

  BranchParts parts_;
  std::vector<std::size_t> offsets_;
  std::size_t count_ = 0;  // states; the drive follows as one more
  double port_capacitance_ = 0;
  std::optional<std::size_t> port_index_;
  std::optional<std::size_t> terminal_index_;  // of an output capacitance before a wire
  bool has_inductors_ = false;
  double stray_ = 0;
  std::vector<double> state_;
  std::vector<double> corners_;
  StiffStep stepper_;
  NotCopied<std::vector<Signal>> losses_;  // W, one a branch: they point into the piece
  bool timed_ = false;
  double port_guess_ = 0;  // the port's voltage when it was last solved for
};

}  // namespace rampart::circuit
