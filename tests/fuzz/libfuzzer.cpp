// One target as libFuzzer calls it (https://llvm.org/docs/LibFuzzer.html).
#include <cstddef>
#include <cstdint>

#include "tests/fuzz/targets.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  rampart::fuzz::RAMPART_FUZZ_TARGET({reinterpret_cast<const char*>(data), size});
  return 0;
}
