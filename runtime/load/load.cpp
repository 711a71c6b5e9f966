#include "runtime/load/load.h"

namespace rampart {

const RailLoad* Load::find_rail(std::string_view name) const {
  for (const RailLoad& rail : rails) {
    if (rail.rail == name) return &rail;
  }
  return nullptr;
}

std::string RailLoad::name_of(std::size_t element) const {
  const LoadElement& one = elements[element];
  if (!one.name.empty()) return one.name;
  std::size_t number = 1;
  for (std::size_t before = 0; before < element; ++before) number += elements[before].kind() == one.kind();
  return std::string(one.kind()) + " " + std::to_string(number);
}

const Fault* Load::find_fault(std::string_view name) const {
  for (const Fault& fault : faults) {
    if (fault.name == name) return &fault;
  }
  return nullptr;
}

}  // namespace rampart
