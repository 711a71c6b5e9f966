#pragma once

#include <memory>
#include <utility>

#include "runtime/circuit/circuit.h"

namespace rampart::circuit {

// A circuit that is copied with its owner; see Circuit::copy().
class OwnedCircuit {
 public:
  OwnedCircuit(std::unique_ptr<Circuit> circuit) : circuit_(std::move(circuit)) {}
  OwnedCircuit(const OwnedCircuit& other) : circuit_(other.circuit_->copy()) {}
  OwnedCircuit(OwnedCircuit&&) noexcept = default;
  OwnedCircuit& operator=(OwnedCircuit&&) noexcept = default;
  ~OwnedCircuit() = default;

  [[nodiscard]] Circuit& operator*() const { return *circuit_; }
  [[nodiscard]] Circuit* operator->() const { return circuit_.get(); }

 private:
  std::unique_ptr<Circuit> circuit_;
};

}  // namespace rampart::circuit
