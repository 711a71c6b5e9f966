#pragma once

namespace rampart {

// One visitor from several lambdas, for std::visit.
template <class... Lambdas>
struct Overloaded : Lambdas... {
  using Lambdas::operator()...;
};
// Clang deduces aggregates from version 17 on only.
template <class... Lambdas>
Overloaded(Lambdas...) -> Overloaded<Lambdas...>;

}  // namespace rampart
