#pragma once

#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "runtime/load/elements/capacitor.h"
#include "runtime/load/elements/clamp.h"
#include "runtime/load/elements/constant_current.h"
#include "runtime/load/elements/constant_power.h"
#include "runtime/load/elements/diode.h"
#include "runtime/load/elements/element.h"
#include "runtime/load/elements/inductor.h"
#include "runtime/load/elements/iv_curve.h"
#include "runtime/load/elements/lamp.h"
#include "runtime/load/elements/linear_part.h"
#include "runtime/load/elements/load_profile.h"
#include "runtime/load/elements/pulsed_current.h"
#include "runtime/load/elements/resistor.h"
#include "runtime/load/elements/source.h"

namespace rampart {

// The list of all kinds, in the order in which messages name them. Whatever is done with any kind goes by this list and
// by what the element's struct says of itself:
//   kind()            its name and its keys; its members are their values
//   branch()          its equations
//   linear()          if it is linear: what it is to a circuit that is solved exactly
//   start_from(held)  if it stores: begin at that voltage, or that current
//   left_when_off(v)  if it is not itself what a switched-off rail discharges into: what is left of it, which holds v
using ElementPart = std::variant<ResistorElement, CapacitorElement, InductorElement, ConstantCurrentElement,
                                 ConstantPowerElement, DiodeElement, LampElement, CurveElement, PulsedCurrentElement,
                                 SourceElement, LoadProfileElement, ClampElement>;

[[nodiscard]] std::string_view kind_of(const ElementPart& part);
[[nodiscard]] std::unique_ptr<circuit::Branch> branch_of(const ElementPart& part);
// Empty for one that is not linear.
[[nodiscard]] std::optional<circuit::LinearPart> linear_part_of(const ElementPart& part);
// Lets a capacitance begin at `held` V, or an inductance at `held` A; other parts begin anew.
void start_from(ElementPart& part, double held);
// What discharges through a switched-off rail, with the `held` voltage or current of the element itself.
[[nodiscard]] std::optional<ElementPart> left_when_off(const ElementPart& part, double held, double port_voltage);

// A value that may have a tolerance.
struct TolerancedValue {
  std::string_view key;
  std::string unit;
  Toleranced* value = nullptr;
};
// Those of an element that are there, in the order of its keys.
[[nodiscard]] std::vector<TolerancedValue> toleranced_values(ElementPart& part);

}  // namespace rampart
