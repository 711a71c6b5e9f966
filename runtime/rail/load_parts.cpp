#include "runtime/rail/load_parts.h"

#include "runtime/circuit/branch_circuit.h"
#include "runtime/circuit/rail_circuit.h"
#include "runtime/load/elements/branch.h"

namespace rampart {

std::optional<circuit::Parts> linear_parts(const RailLoad& load) {
  circuit::Parts parts;
  parts.wire = load.wire.nominal;
  parts.elements = load.elements.size();
  for (std::size_t i = 0; i < load.elements.size(); ++i) {
    const std::optional<circuit::LinearPart> part = linear_part_of(load.elements[i].what);
    if (!part) return std::nullopt;
    parts.add(*part, i);
  }
  return parts;
}

std::unique_ptr<circuit::Circuit> circuit_of(const RailLoad* load, const RailTerminals& output, double output_voltage) {
  const circuit::OutputTraits traits{output.sink, output.headroom};
  std::optional<circuit::Parts> linear = load != nullptr ? linear_parts(*load) : circuit::Parts{};
  if (linear) {
    linear->output_capacitance = output.capacitance;
    linear->output_voltage = output_voltage;
    linear->off_resistance = output.off_resistance;
    return std::make_unique<circuit::RailCircuit>(std::move(*linear), traits);
  }
  circuit::BranchParts parts;
  parts.wire = load->wire.nominal;
  parts.output_capacitance = output.capacitance;
  parts.output_voltage = output_voltage;
  parts.off_resistance = output.off_resistance;
  for (std::size_t i = 0; i < load->elements.size(); ++i) {
    parts.branches.emplace_back(branch_of(load->elements[i].what));
    parts.elements.push_back(i);
  }
  return std::make_unique<circuit::BranchCircuit>(std::move(parts), traits);
}

}  // namespace rampart
