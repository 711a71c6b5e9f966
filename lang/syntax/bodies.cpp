#include "lang/syntax/bodies.h"

namespace rampart::ast {
namespace {

template <class Variant>
const Block* body_in(const Variant& what) {
  return std::visit(
      [](const auto& one) -> const Block* {
        if constexpr (requires { unboxed(one).body; }) return &unboxed(one).body;
        return nullptr;
      },
      what);
}

}  // namespace

const Block* body_of(const Statement& statement) {
  return body_in(statement.what);
}

const Block* body_of(const Declaration& declaration) {
  return body_in(declaration.what);
}

const Statement* statement_at(const Profile& profile, std::uint32_t offset) {
  const Block* block = nullptr;
  for (const Declaration& declaration : profile.declarations) {
    const bool is_around = declaration.span.begin <= offset && offset <= declaration.span.end;
    if (is_around && body_of(declaration) != nullptr) block = body_of(declaration);
  }
  const Statement* innermost = nullptr;
  while (block != nullptr) {
    const Block* next = nullptr;
    for (const Statement& statement : block->statements) {
      if (statement.span.begin > offset || offset > statement.span.end) continue;
      innermost = &statement;
      next = body_of(statement);
    }
    block = next;
  }
  return innermost;
}

}  // namespace rampart::ast
