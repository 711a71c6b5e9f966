#pragma once

#include "compiler/bench/bench.h"
#include "compiler/yaml/file_values.h"

namespace rampart {

// Reads `links`: which supplies take each other's outputs off. Needs the supplies of the bench.
void read_links(const Field& field, Bench& bench, FindingSink& findings);

}  // namespace rampart
