#pragma once

namespace rampart {

// One visitor from several lambdas, for std::visit.
template <class... Lambdas>
struct Overloaded : Lambdas... {
  using Lambdas::operator()...;
};

}  // namespace rampart
