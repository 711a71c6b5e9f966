#pragma once

#include <string>

#include "runtime/diff/profile_difference.h"

namespace rampart::cli {

// What changes on the bench, for people; unless `full`, three stretches of each quantity. Empty where nothing does.
[[nodiscard]] std::string diff_text(const Answer& before, const Answer& after,
                                    const diff::ProfileDifference& difference, bool full);

// {"rampart": VERSION, "old": PATH, "new": PATH, "differs": true, ...}; docs/formats.md has the rest.
[[nodiscard]] std::string diff_document(const Answer& before, const Answer& after,
                                        const diff::ProfileDifference& difference);

// The same where a side has no table and nothing can be compared: "differs" is null, "broken" names the sides ("old",
// "new"), and "old_findings" and "new_findings" say what is wrong.
[[nodiscard]] std::string broken_document(const Answer& before, const Answer& after);

// The same where one side has no profile: the other is new, or was removed.
[[nodiscard]] std::string one_sided_text(const Answer& only, bool is_new);
[[nodiscard]] std::string one_sided_document(const std::string& before, const std::string& after, const Answer& only,
                                             bool is_new);

}  // namespace rampart::cli
