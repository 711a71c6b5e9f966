#include "runtime/load_parts.h"

#include "lang/overloaded.h"

namespace rampart {

std::optional<circuit::Parts> linear_parts(const RailLoad& load) {
  circuit::Parts parts;
  parts.wire = load.wire.nominal;
  parts.elements = load.elements.size();
  bool linear = true;
  for (std::size_t i = 0; i < load.elements.size(); ++i) {
    std::visit(Overloaded{
                   [&](const ResistorElement& element) {
                     parts.resistors.push_back({{element.resistance.nominal}, i});
                   },
                   [&](const CapacitorElement& element) {
                     std::optional<double> leakage;
                     if (element.leakage) leakage = element.leakage->nominal;
                     parts.capacitors.push_back(
                         {{element.capacitance.nominal, element.esr.nominal, leakage, element.initial_voltage}, i});
                   },
                   [&](const InductorElement& element) {
                     parts.inductors.push_back(
                         {{element.inductance.nominal, element.resistance.nominal, element.initial_current}, i});
                   },
                   [&](const SourceElement& element) {
                     parts.sources.push_back({{element.voltage.nominal, element.resistance.nominal}, i});
                   },
                   [&](const auto&) { linear = false; },
               },
               load.elements[i].what);
  }
  if (!linear) return std::nullopt;
  return parts;
}

}  // namespace rampart
