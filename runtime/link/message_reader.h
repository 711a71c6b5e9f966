#pragma once

#include "compiler/yaml/file_values.h"
#include "runtime/link/link.h"

namespace rampart::link {

// The texts of `messages` in place of the defaults.
[[nodiscard]] std::optional<Messages> read_messages(const Field& field, FindingSink& findings);
// Reports messages that a supply cannot do without, and those that lack what belongs to them.
void check_messages(const SupplyLink& supply, const Section& section, FindingSink& findings);

}  // namespace rampart::link
