#pragma once

#include "compiler/bench/bench.h"
#include "compiler/yaml/file_values.h"

namespace rampart {

// Reads the keys that one channel of a bench file has itself into `channel`, which holds those of the channel that it
// is `like`. Keys that are absent leave what stands there.
void read_channel(const Section& section, Channel& channel, FindingSink& findings);

// Reports values of one channel that cannot be true together.
void check_channel(const Section& section, const Channel& channel, FindingSink& findings);

}  // namespace rampart
