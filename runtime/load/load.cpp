#include "runtime/load/load.h"

namespace rampart {

const RailLoad* Load::find_rail(std::string_view name) const {
  for (const RailLoad& rail : rails) {
    if (rail.rail == name) return &rail;
  }
  return nullptr;
}

const Fault* Load::find_fault(std::string_view name) const {
  for (const Fault& fault : faults) {
    if (fault.name == name) return &fault;
  }
  return nullptr;
}

}  // namespace rampart
