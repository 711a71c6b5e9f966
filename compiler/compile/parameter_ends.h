#pragma once

#include <cstddef>

#include "compiler/bench/bench.h"
#include "compiler/profile/profile.h"
#include "compiler/resolve/resolve.h"
#include "lang/findings/finding.h"
#include "lang/syntax/ast.h"
#include "lang/text/source.h"

namespace rampart {

// So many parameters are compiled at the ends of their ranges; the others only as they are.
inline constexpr std::size_t kMaxParametersAtEnds = 16;

// Compiles the profile with each of its parameters at the lower and at the upper end of its range, the others as they
// are, and reports what is found there and not at `profile` itself: once, saying at which value. A parameter that was
// set by the caller stays as it was set. Rules are judged on the setpoints; nothing is simulated.
void check_parameter_ends(const SourceSet& sources, const ast::Profile& tree, const Bench& bench,
                          const ResolveOptions& options, const Profile& profile, FindingSink& findings);

}  // namespace rampart
