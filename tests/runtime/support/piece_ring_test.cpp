#include "runtime/support/piece_ring.h"

#include <doctest/doctest.h>

#include <chrono>
#include <string>

using namespace rampart;

TEST_CASE("the reader gets every piece once and in order, however slow it is") {
  for (const std::size_t slow_at : {0U, 5U, 1U}) {
    std::string expected;
    std::string read;
    PieceRing ring([&read, slow_at](std::string_view piece) {
      if (slow_at != 0 && read.size() % slow_at == 0) std::this_thread::sleep_for(std::chrono::microseconds(300));
      read += piece;
    });
    for (int i = 0; i < 500; ++i) {
      const std::string piece = std::to_string(i) + " ";
      ring.add(piece);
      expected += piece;
      if (i % 200 != 199 && i != 1) continue;
      ring.finish();
      CHECK(read == expected);
    }
    ring.finish();
    CHECK(read == expected);
  }
}

TEST_CASE("a ring that is left with pieces in it ends its thread") {
  std::string read;
  {
    PieceRing ring([&read](std::string_view piece) { read += piece; });
    for (int i = 0; i < 20; ++i) ring.add("x");
  }
  CHECK(read.size() <= 20);
}
