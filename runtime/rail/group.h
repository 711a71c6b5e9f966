#pragma once

#include <memory>
#include <utility>

#include "lang/values/instant.h"
#include "runtime/circuit/circuit.h"
#include "runtime/circuit/owned.h"

namespace rampart {

// Stretches of time that are shorter, s, are not gone through: both ends are one instant.
inline constexpr double kShortestStep = 1e-15;

// What is solved as one: outputs, the wires behind them and the elements that these feed. It has network, state and
// modes in a circuit, and the step that it is going through: a piece, with the instants at which that begins and ends.
// Steps are the group's own. It meets other groups where something happens to both.
//
// A copy stands where the original's step began, without the step.
class Group {
 public:
  explicit Group(std::unique_ptr<circuit::Circuit> circuit) : circuit_(std::move(circuit)) {}
  Group(const Group& other) : circuit_(other.circuit_) {}
  Group(Group&&) noexcept = default;
  Group& operator=(const Group& other) {
    circuit_ = other.circuit_;
    step_ = {};
    return *this;
  }
  Group& operator=(Group&&) noexcept = default;
  ~Group() = default;

  // Begins a step, up to `until` at the latest.
  void plan(const Instant& now, const Instant& until);
  // The step lasts `length` s at the most.
  void bound(double length);
  // Ends the step at `now`, an instant within it. False where it has only just begun: then there is no step.
  [[nodiscard]] bool end_at(const Instant& now);
  // Goes to the end of the step.
  void advance();

  // From plan() to advance().
  [[nodiscard]] bool is_under_way() const { return step_.lasts; }
  [[nodiscard]] const Instant& begins() const { return step_.begins; }
  [[nodiscard]] const Instant& ends() const { return step_.ends; }
  // It goes on for as long as was asked for.
  [[nodiscard]] bool is_whole() const { return step_.whole; }

  [[nodiscard]] circuit::Circuit& operator*() const { return *circuit_; }
  [[nodiscard]] circuit::Circuit* operator->() const { return circuit_.operator->(); }

 private:
  struct Step {
    Instant begins;
    Instant ends;
    bool lasts = false;
    bool whole = false;
  };
  circuit::Owned<circuit::Circuit> circuit_;
  Step step_;
};

}  // namespace rampart
