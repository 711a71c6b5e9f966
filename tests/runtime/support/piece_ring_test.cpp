#include "runtime/support/piece_ring.h"

#include <doctest/doctest.h>

#include <chrono>
#include <string>

using namespace rampart;

TEST_CASE("every reader gets every piece once and in order, however slow the other is") {
  std::string expected;
  std::string quick;
  std::string slow;
  {
    PieceRing ring({[&quick](std::string_view piece) { quick += piece; },
                    [&slow](std::string_view piece) {
                      if (slow.size() % 5 == 0) std::this_thread::sleep_for(std::chrono::microseconds(300));
                      slow += piece;
                    }});
    for (int i = 0; i < 500; ++i) {
      const std::string piece = std::to_string(i) + " ";
      ring.add(piece);
      expected += piece;
      if (i % 200 != 199) continue;
      ring.finish();
      CHECK(quick == expected);
      CHECK(slow == expected);
    }
    ring.finish();
  }
  CHECK(quick == expected);
  CHECK(slow == expected);
}

TEST_CASE("a ring that is left with pieces in it ends its threads") {
  std::string read;
  {
    PieceRing ring({[&read](std::string_view piece) { read += piece; }});
    for (int i = 0; i < 20; ++i) ring.add("x");
  }
  CHECK(read.size() <= 20);
}
