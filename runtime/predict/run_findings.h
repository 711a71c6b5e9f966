#pragma once

#include <optional>
#include <string>

#include "compiler/profile/profile.h"
#include "lang/findings/finding.h"
#include "runtime/answer/simulation.h"
#include "runtime/load/load.h"
#include "runtime/predict/fuse_delays.h"
#include "runtime/predict/overpower_room.h"
#include "runtime/predict/stairs.h"

namespace rampart {

// Reports what the simulation says will go wrong at the bench: trips that nobody asked for, phases in constant current,
// rails that end charged, leads that drop too much, thin margins, expectations that fail. Of a run that was cut short
// only what happened before.
// `rooms`: of the rails that their overpower protection trips. `lasting`: by rail the highest current that is judged
// against the leads, A; empty: leads are not judged. `stairs` may be null.
void report_predictions(const Profile& profile, const Load& load, const Simulation& simulation, FindingSink& findings,
                        const std::vector<FuseDelays>& delays = {}, const std::vector<OverpowerRoom>& rooms = {},
                        const std::vector<double>& lasting = {}, const Stairs* stairs = nullptr);

// True where a rail's peak current drops so much on its leads that it counts whether that lasts.
[[nodiscard]] bool may_lose_to_leads(const Profile& profile, const Load& load, const Simulation& simulation);

// Reports that the rest of a run is not predicted.
void report_cut_short(const CutShort& cut, FindingSink& findings);

}  // namespace rampart
