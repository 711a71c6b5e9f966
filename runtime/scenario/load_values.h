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
    for (std::size_t before = 0; before < i; ++before) number += rail.elements[before].kind() == element.kind();
    for (const TolerancedValue& one : toleranced_values(element.what)) {
      f(ValuePlace{one.key, one.unit, element.kind(), number}, *one.value);
    }
  }
}

}  // namespace rampart::spread
