#include "runtime/link/link.h"
#include "tests/fuzz/read_alone.h"
#include "tests/fuzz/targets.h"

namespace rampart::fuzz {

void link(std::string_view text) {
  read_alone(text, "s.link.yaml", link::read_link);
}

}  // namespace rampart::fuzz
