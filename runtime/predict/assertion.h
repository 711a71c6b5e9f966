#pragma once

#include <optional>

#include "compiler/profile/profile.h"
#include "lang/findings/finding.h"
#include "runtime/answer/simulation.h"
#include "runtime/play/simulate.h"

namespace rampart {

// Reads `LINE=TIME`, the text of a source of its own: the interlock LINE of the profile goes high at TIME of the run.
// Findings: wrong-arguments, unknown-name, line-direction; empty with one of them.
[[nodiscard]] std::optional<Assertion> read_assertion(const SourceSet& sources, FileId file, const Profile& profile,
                                                      FindingSink& findings);

}  // namespace rampart
