#pragma once

#include <string>

#include "lang/values/quantity.h"

namespace rampart {

// A parameter held at a value in its range, whatever the profile or a setting says.
struct Held {
  std::string parameter;
  Quantity value;
};

}  // namespace rampart
