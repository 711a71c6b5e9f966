#include "lang/values/instant.h"

namespace rampart {

std::string in_pass(std::int64_t pass) {
  return " in pass " + std::to_string(pass);
}

std::string in_pass(const Passes& passes) {
  return passes.empty() ? std::string() : in_pass(passes.back());
}

}  // namespace rampart
