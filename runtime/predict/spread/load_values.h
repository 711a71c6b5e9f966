#pragma once

#include <string>
#include <string_view>

#include "runtime/load/load.h"

// Every value of a load that can have a tolerance, one after another in a fixed order.
namespace rampart::spread {

namespace values_of {

template <class F>
void visit(ResistorElement& it, F&& f) {
  f("resistance", "Ohm", it.resistance);
}
template <class F>
void visit(CapacitorElement& it, F&& f) {
  f("capacitance", "F", it.capacitance);
  f("esr", "Ohm", it.esr);
  if (it.leakage) f("leakage", "Ohm", *it.leakage);
}
template <class F>
void visit(InductorElement& it, F&& f) {
  f("inductance", "H", it.inductance);
  f("resistance", "Ohm", it.resistance);
}
template <class F>
void visit(ConstantCurrentElement& it, F&& f) {
  f("current", "A", it.current);
}
template <class F>
void visit(ConstantPowerElement& it, F&& f) {
  f("power", "W", it.power);
  f("starts_at", "V", it.starts_at);
  f("stops_at", "V", it.stops_at);
  f("input_capacitance", "F", it.input_capacitance);
  f("quiescent_current", "A", it.quiescent_current);
}
template <class F>
void visit(DiodeElement& it, F&& f) {
  f("saturation_current", "A", it.saturation_current);
  f("ideality", "", it.ideality);
  f("series_resistance", "Ohm", it.series_resistance);
}
template <class F>
void visit(LampElement& it, F&& f) {
  f("rated_voltage", "V", it.rated_voltage);
  f("rated_power", "W", it.rated_power);
  f("cold_resistance", "Ohm", it.cold_resistance);
  f("heat_capacity", "J/K", it.heat_capacity);
}
template <class F>
void visit(CurveElement& /*it*/, F&& /*f*/) {}
template <class F>
void visit(PulsedCurrentElement& it, F&& f) {
  f("current", "A", it.current);
}
template <class F>
void visit(SourceElement& it, F&& f) {
  f("voltage", "V", it.voltage);
  f("resistance", "Ohm", it.resistance);
}
template <class F>
void visit(LoadProfileElement& it, F&& f) {
  f("power_good", "V", it.power_good);
  if (it.input_capacitance) f("input_capacitance", "F", *it.input_capacitance);
}

}  // namespace values_of

// Where a value stands. "wire of logic", "capacitance of capacitor 2 of logic".
struct ValuePlace {
  std::string_view key;
  std::string_view unit;
  std::string_view kind;   // empty for the wire
  std::size_t number = 0;  // of its kind on the rail, from 1
};

// f(place, value) for each.
template <class F>
void visit_values(RailLoad& rail, F&& f) {
  f(ValuePlace{"wire", "Ohm", "", 0}, rail.wire);
  for (std::size_t i = 0; i < rail.elements.size(); ++i) {
    LoadElement& element = rail.elements[i];
    std::size_t number = 1;
    for (std::size_t before = 0; before < i; ++before) number += rail.elements[before].kind == element.kind;
    const auto visit_one = [&](std::string_view key, std::string_view unit, Toleranced& value) {
      f(ValuePlace{key, unit, element.kind, number}, value);
    };
    std::visit([&](auto& it) { values_of::visit(it, visit_one); }, element.what);
  }
}

}  // namespace rampart::spread
