#pragma once

#include <string>

#include "runtime/diff/profile_difference.h"

namespace rampart::cli {

// What changes on the bench, for people. Empty where nothing does.
[[nodiscard]] std::string diff_text(const Compilation& before, const Compilation& after,
                                    const diff::ProfileDifference& difference);

// {"rampart": VERSION, "old": PATH, "new": PATH, "differs": true, ...}; docs/formats.md has the rest.
[[nodiscard]] std::string diff_document(const Compilation& before, const Compilation& after,
                                        const diff::ProfileDifference& difference);

}  // namespace rampart::cli
