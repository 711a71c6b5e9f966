#pragma once

#include <array>
#include <optional>
#include <vector>

#include "runtime/circuit/circuit.h"

namespace rampart::circuit {

// An output with a load of linear parts: every course is exact.
class RailCircuit final : public Circuit {
 public:
  RailCircuit(Parts parts, OutputTraits traits);

  [[nodiscard]] bool is_affine() const override { return true; }
  [[nodiscard]] std::span<double> affine_state() override { return state_; }
  [[nodiscard]] std::unique_ptr<Circuit> copy() const override;
  [[nodiscard]] std::vector<StateGain> gains() const override { return gains_; }
  void settle(std::optional<Mode> expected = std::nullopt) override;
  void plan(double length) override;
  void cut(double length) override;
  void advance() override;

  [[nodiscard]] const std::vector<double>& state() const { return state_; }
  [[nodiscard]] const Network& network() const { return *network_; }
  [[nodiscard]] double stored_energy() const override;
  void add_losses(std::vector<double>& elements) const override;
  [[nodiscard]] double held_by(std::size_t element) const override;
  [[nodiscard]] double wire() const override { return network_->parts().wire; }
  [[nodiscard]] Snapshot snapshot(double volts, double amps) const override;

 protected:
  [[nodiscard]] Reading read(Quantity quantity, Mode mode) const override;
  [[nodiscard]] std::optional<double> held_voltage() const override;
  void hold(double voltage) override;
  [[nodiscard]] std::optional<double> held_terminals() const override;
  [[nodiscard]] bool compensates() const override { return sensed() && network_->compensates(); }
  [[nodiscard]] double port_capacitance() const override { return network_->port_capacitance(); }
  [[nodiscard]] bool current_is_state() const override { return network_->current_is_state(); }
  [[nodiscard]] bool has_inductors() const override { return network_->has_inductors(); }
  [[nodiscard]] std::size_t first_inductor() const override { return network_->parts().inductors.front().element; }
  [[nodiscard]] Mode decide_off(std::optional<Mode> expected) const override;

 private:
  [[nodiscard]] Reading read(const Form& form, const StateEquations& equations, const Driving& driving) const;
  void keep_limit();
  // A number of the state jumps, and then changes.
  void put(std::size_t place, double value, double change = 0);
  [[nodiscard]] const Propagator& propagator(Mode mode);

  std::shared_ptr<const Network> network_;                                  // of copies too, as the ways through it are
  std::array<std::shared_ptr<const Propagator>, kDriveCount> propagators_;  // likewise
  std::vector<double> state_;
  std::vector<StateGain> gains_;  // of a copy
  NotCopied<std::vector<Watch>> watched_;
};

}  // namespace rampart::circuit
