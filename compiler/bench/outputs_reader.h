#pragma once

#include "compiler/bench/bench.h"
#include "compiler/yaml/file_values.h"

// `outputs:` of a bench file: names that profiles use for a channel or for several channels together.
namespace rampart {

// Reads the names into `bench`, whose supplies have been read.
void read_outputs(const Field& field, Bench& bench, FindingSink& findings);

// Reports a combination of channels that go from row to row in different ways. `bench` is free of errors otherwise.
void check_playing_together(const Bench& bench, FindingSink& findings);

}  // namespace rampart
