#include "compiler/bench/bench.h"
#include "tests/fuzz/read_alone.h"
#include "tests/fuzz/targets.h"

namespace rampart::fuzz {

void bench(std::string_view text) {
  read_alone(text, "b.bench.yaml", read_bench);
}

}  // namespace rampart::fuzz
