#pragma once

#include <array>
#include <memory>
#include <optional>
#include <vector>

#include "runtime/circuit/branch_network.h"
#include "runtime/circuit/circuit.h"
#include "runtime/circuit/owned.h"
#include "runtime/circuit/stiff_step.h"

namespace rampart::circuit {

// An output with a load of any parts: each step of an error-controlled method gives a piece of polynomials.
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
  [[nodiscard]] double wire() const override { return network_.parts().wire; }
  [[nodiscard]] Snapshot snapshot(double volts, double amps) const override;

 protected:
  [[nodiscard]] Reading read(Quantity quantity, Mode mode) const override;
  [[nodiscard]] std::optional<double> held_voltage() const override;
  void hold(double voltage) override;
  [[nodiscard]] std::size_t first_inductor() const override;
  [[nodiscard]] std::optional<double> held_terminals() const override;
  [[nodiscard]] bool compensates() const override { return network_.compensates(); }
  [[nodiscard]] double port_capacitance() const override { return network_.port_capacitance(); }
  [[nodiscard]] bool has_inductors() const override { return network_.has_inductors(); }
  [[nodiscard]] double current_noise() const override;
  [[nodiscard]] Mode decide_off(std::optional<Mode> expected) const override;

 private:
  // Sizes of a piece, which its errors are measured against.
  struct Scales {
    double volts = 0;
    double amps = 0;
    double power = 0;
    double stored = 0;  // J
  };

  [[nodiscard]] Imposed imposed(Mode mode) const { return {drive_of(mode), driving_of(mode).slope, setting_.voltage}; }
  using NodePoints = std::array<NetworkPoint, kNodes>;
  using NodeLosses = std::vector<std::array<double, kNodes>>;
  void fill_piece(double length);
  void fill_damped_losses(const NodePoints& points, NodeLosses& losses) const;
  void settle_ways(std::optional<Mode> expected);
  void take_step(double longest);
  [[nodiscard]] bool gives_current() const;
  [[nodiscard]] double roughness() const;
  [[nodiscard]] double misfit() const;
  [[nodiscard]] double misfit_at(double share, const Scales& scales) const;
  [[nodiscard]] double unbalance_at(double share, const NetworkPoint& at, const std::vector<double>& state) const;
  [[nodiscard]] double wrong_loss_at(double share, double port, const std::vector<double>& state) const;
  void end_piece_at(double share);
  [[nodiscard]] double first_edge() const;
  [[nodiscard]] double first_corner() const;
  [[nodiscard]] double next_timed() const;

  BranchNetwork network_;
  std::size_t count_ = 0;  // states; the drive follows as one more
  std::vector<double> state_;
  StiffStep stepper_;
  NotCopied<std::vector<Signal>> losses_;  // W, one a branch: they point into the piece
  bool timed_ = false;
  double port_guess_ = 0;  // the port's voltage when it was last solved for
  NotCopied<std::vector<Watch>> watched_;
};

}  // namespace rampart::circuit
