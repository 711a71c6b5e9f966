#pragma once

#include "runtime/play/mark_states.h"
#include "runtime/play/milestones.h"

namespace rampart {

// What a run takes down of itself, so that others of the same table need not go all its way.
struct RunNotes {
  Milestones milestones;
  MarkStates marks;
};

}  // namespace rampart
