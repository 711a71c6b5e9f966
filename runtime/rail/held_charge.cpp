#include "runtime/rail/held_charge.h"

#include "lang/text/overloaded.h"
#include "runtime/rail/load_parts.h"

namespace rampart {
namespace {

LoadElement capacitor_at(const Toleranced& capacitance, double voltage) {
  return {{}, "capacitor", CapacitorElement{capacitance, {}, std::nullopt, voltage}};
}

}  // namespace

StoredCharge stored_charge(const RailLoad* load, const RailOutput& output, const circuit::Circuit& circuit) {
  StoredCharge result{{}, output, circuit.terminal_voltage()};
  if (load == nullptr) return result;
  result.load.wire = load->wire;
  const double port = circuit.port_voltage();
  for (std::size_t i = 0; i < load->elements.size(); ++i) {
    std::visit(Overloaded{
                   [&](const ConstantPowerElement& element) {
                     result.load.elements.push_back(capacitor_at(element.input_capacitance, port));
                   },
                   [&](const LoadProfileElement& element) {
                     if (!element.input_capacitance) return;
                     result.load.elements.push_back(capacitor_at(*element.input_capacitance, port));
                   },
                   [](const LampElement&) {},
                   [](const PulsedCurrentElement&) {},
                   [&](const auto&) {
                     result.load.elements.push_back(load->elements[i]);
                     start_from(result.load.elements.back(), circuit.held_by(i));
                   },
               },
               load->elements[i].what);
  }
  return result;
}

}  // namespace rampart
