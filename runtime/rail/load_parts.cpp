#include "runtime/rail/load_parts.h"

#include "lang/text/overloaded.h"
#include "runtime/circuit/branch_circuit.h"
#include "runtime/circuit/rail_circuit.h"

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

namespace {

// Boltzmann's constant over the elementary charge, V/K; both are exact in the SI of 2019.
constexpr double kThermalVoltsPerKelvin = 1.380649e-23 / 1.602176634e-19;

using circuit::Branch;

std::unique_ptr<Branch> branch_of(const ResistorElement& element) {
  return circuit::resistor_branch({element.resistance.nominal});
}
std::unique_ptr<Branch> branch_of(const CapacitorElement& element) {
  std::optional<double> leakage;
  if (element.leakage) leakage = element.leakage->nominal;
  return circuit::capacitor_branch(
      {element.capacitance.nominal, element.esr.nominal, leakage, element.initial_voltage});
}
std::unique_ptr<Branch> branch_of(const InductorElement& element) {
  return circuit::inductor_branch({element.inductance.nominal, element.resistance.nominal, element.initial_current});
}
std::unique_ptr<Branch> branch_of(const SourceElement& element) {
  return circuit::source_branch({element.voltage.nominal, element.resistance.nominal});
}
std::unique_ptr<Branch> branch_of(const ConstantCurrentElement& element) {
  return circuit::constant_current_branch(element.current.nominal, element.from);
}
std::unique_ptr<Branch> branch_of(const ConstantPowerElement& element) {
  return circuit::constant_power_branch({element.power.nominal, element.starts_at.nominal, element.stops_at.nominal,
                                         element.input_capacitance.nominal, element.initial_voltage, element.soft_start,
                                         element.quiescent_current.nominal});
}
std::unique_ptr<Branch> branch_of(const DiodeElement& element) {
  const double thermal = kThermalVoltsPerKelvin * element.temperature;
  return circuit::diode_branch({element.saturation_current.nominal,
                                element.in_series * element.ideality.nominal * thermal,
                                element.series_resistance.nominal});
}
std::unique_ptr<Branch> branch_of(const LampElement& element) {
  return circuit::lamp_branch({element.rated_voltage.nominal, element.rated_power.nominal,
                               element.cold_resistance.nominal, element.heat_capacity.nominal, element.cold_temperature,
                               element.exponent});
}
std::unique_ptr<Branch> branch_of(const CurveElement& element) {
  return circuit::curve_branch(element.points);
}
std::unique_ptr<Branch> branch_of(const PulsedCurrentElement& element) {
  return circuit::pulsed_branch({element.current.nominal, element.on, element.period, element.from, element.rest});
}
std::unique_ptr<Branch> branch_of(const LoadProfileElement& element) {
  const double capacitance = element.input_capacitance ? element.input_capacitance->nominal : 0;
  return circuit::load_profile_branch({element.power_good.nominal, element.draws, capacitance});
}

}  // namespace

void start_from(LoadElement& element, double held) {
  std::visit(Overloaded{
                 [&](CapacitorElement& part) { part.initial_voltage = held; },
                 [&](InductorElement& part) { part.initial_current = held; },
                 [&](ConstantPowerElement& part) { part.initial_voltage = held; },
                 [](auto&) {},
             },
             element.what);
}

std::unique_ptr<circuit::Circuit> circuit_of(const RailLoad* load, const RailOutput& output, double output_voltage) {
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
    parts.branches.push_back(
        std::visit([](const auto& element) { return branch_of(element); }, load->elements[i].what));
    parts.elements.push_back(i);
  }
  return std::make_unique<circuit::BranchCircuit>(std::move(parts), traits);
}

}  // namespace rampart
