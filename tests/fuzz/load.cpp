#include "runtime/load/load.h"
#include "tests/fuzz/read_alone.h"
#include "tests/fuzz/targets.h"

namespace rampart::fuzz {

void load(std::string_view text) {
  read_alone(text, "l.load.yaml", read_load);
}

}  // namespace rampart::fuzz
