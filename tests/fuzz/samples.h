#pragma once

#include "compiler/compile/compile.h"

// The files that an input leaves out: a bench that can do everything, a profile that asks for it, and its load.
namespace rampart::fuzz {

extern const char* const kBench;
extern const char* const kProfile;
extern const char* const kLoad;

// That profile on that bench.
[[nodiscard]] const Compiled& compiled_sample();

}  // namespace rampart::fuzz
