#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "lang/findings/finding.h"
#include "runtime/predict/answer.h"
#include "runtime/predict/spread/ledger.h"
#include "runtime/sweep/sweep.h"

namespace rampart::sweep {

// A limit of which a share has to be left: of a margin that is judged, or of an expectation on a figure.
struct KeptLimit {
  std::size_t reading = 0;  // its margin, in the order of a ledger
  double limit = 0;         // above 0
  bool while_held = false;  // is nothing to keep where it is exceeded
};

[[nodiscard]] std::vector<KeptLimit> kept_limits(const Profile& profile, const Simulation& nominal,
                                                 const FindingSink& findings,
                                                 const std::vector<spread::Reading>& readings);

// Whether a run leaves less of it than that share. What calculating leaves of nothing is nothing.
[[nodiscard]] bool leaves_less(const KeptLimit& limit, double margin, double keep);

// The limit of an answer of which the least share is left: of its corners, where it has some, else of its plain run.
// None without a simulation or a limit.
[[nodiscard]] std::optional<TightMargin> least_left_of(const Answer& answer);
// What leaves so much leaves less than `keep`.
[[nodiscard]] bool is_too_little(const TightMargin& left, double keep);

}  // namespace rampart::sweep
