#pragma once

#include "lang/values/rational.h"

namespace rampart {

// The most that the setpoints of a rail ask for while it is on.
struct HighestDemand {
  Rational limit;  // A
  Rational power;  // W: setpoint times limit
};

}  // namespace rampart
