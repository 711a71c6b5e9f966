#pragma once

#include <string>
#include <string_view>

#include "runtime/load/load.h"

// Every value of a load that can have a tolerance, one after another in a fixed order.
namespace rampart::spread {

// Where a value stands. "wire of logic", "capacitance of capacitor 2 of logic".
struct ValuePlace {
  std::string_view key;
  std::string_view unit;
  std::string part;  // of the rail; empty for the wire
};

// f(place, value) for each.
template <class F>
void visit_values(RailLoad& rail, F&& f) {
  f(ValuePlace{"wire", "Ohm", ""}, rail.wire);
  for (std::size_t i = 0; i < rail.elements.size(); ++i) {
    LoadElement& element = rail.elements[i];
    for (const TolerancedValue& one : toleranced_values(element.what)) {
      f(ValuePlace{one.key, one.unit, rail.name_of(i)}, *one.value);
    }
  }
}

}  // namespace rampart::spread
