#pragma once

#include "lang/syntax/ast.h"

namespace rampart::ast {

// The block that a statement has, or that a run, a safe sequence or a sequence consists of; null where there is none.
[[nodiscard]] const Block* body_of(const Statement& statement);
[[nodiscard]] const Block* body_of(const Declaration& declaration);

// The innermost statement around an offset, or null.
[[nodiscard]] const Statement* statement_at(const Profile& profile, std::uint32_t offset);

}  // namespace rampart::ast
