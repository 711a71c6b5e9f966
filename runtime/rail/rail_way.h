#pragma once

#include "runtime/circuit/circuit.h"

namespace rampart {

// What a rail follows in a planned piece. Two runs whose rails follow the same in every piece obey the same equations.
struct RailWay {
  circuit::Mode mode{};
  // The conditions of protections that wait.
  bool fuse_holds = false;
  bool overpower_holds = false;

  friend bool operator==(const RailWay&, const RailWay&) = default;
};

}  // namespace rampart
