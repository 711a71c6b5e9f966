#include "runtime/rail/held_charge.h"

namespace rampart {

StoredCharge stored_charge(const RailLoad* load, const RailTerminals& output, const circuit::Circuit& circuit) {
  StoredCharge result{{}, output, circuit.terminal_voltage()};
  if (load == nullptr) return result;
  result.load.wire = load->wire;
  const double port = circuit.port_voltage();
  for (std::size_t i = 0; i < load->elements.size(); ++i) {
    std::optional<ElementPart> left = left_when_off(load->elements[i].what, circuit.held_by(i), port);
    if (left) result.load.elements.push_back({{}, *std::move(left)});
  }
  return result;
}

}  // namespace rampart
