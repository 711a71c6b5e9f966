#include "runtime/fold/phase_orbit.h"

#include <doctest/doctest.h>

#include <random>

using namespace rampart;

namespace {

std::optional<std::int64_t> first_by_looking(const PhaseOrbit& orbit, const PhaseArc& arc) {
  for (std::int64_t pass = 0; pass <= orbit.modulus; ++pass) {
    if (arc.holds((orbit.start + pass * orbit.step) % orbit.modulus)) return pass;
  }
  return std::nullopt;
}

std::int64_t count_by_looking(const PhaseOrbit& orbit, const PhaseArc& arc, std::int64_t passes) {
  std::int64_t count = 0;
  for (std::int64_t pass = 0; pass < passes; ++pass) {
    count += arc.holds((orbit.start + pass * orbit.step) % orbit.modulus) ? 1 : 0;
  }
  return count;
}

}  // namespace

// Source: each pass looked at by itself.
TEST_CASE("first passes and counts of an arc of phases") {
  std::mt19937 engine(1);
  const auto below = [&](std::int64_t end) {
    return static_cast<std::int64_t>(engine() % static_cast<std::uint32_t>(end));
  };
  for (int i = 0; i < 20'000; ++i) {
    const std::int64_t modulus = 1 + below(60);
    const PhaseOrbit orbit{below(modulus), below(modulus), modulus};
    const std::int64_t low = below(modulus);
    const PhaseArc arc{low, low + below(modulus - low)};
    CAPTURE(orbit.start);
    CAPTURE(orbit.step);
    CAPTURE(modulus);
    CAPTURE(arc.low);
    CAPTURE(arc.high);
    CHECK(orbit.first_in(arc) == first_by_looking(orbit, arc));
    const std::int64_t passes = below(200);
    CHECK(orbit.count_in(arc, passes) == count_by_looking(orbit, arc, passes));
    CHECK(orbit.from(passes).phase(7) == orbit.phase(passes + 7));
  }
}

// Ends of what can be asked: a step of 1 comes to the last phase after a whole turn, and over whole turns each phase is
// met once a turn. By hand.
TEST_CASE("an orbit of 10^18 phases") {
  constexpr std::int64_t kModulus = 1'000'000'000'000'000'000;
  const PhaseOrbit slow{0, 1, kModulus};
  CHECK(slow.first_in({kModulus - 1, kModulus - 1}) == kModulus - 1);
  CHECK(slow.count_in({17, 116}, kModulus) == 100);
  // One back in each pass.
  const PhaseOrbit back{5, kModulus - 1, kModulus};
  CHECK(back.first_in({kModulus - 1, kModulus - 1}) == 6);
  CHECK(back.count_in({0, 5}, 6) == 6);
  CHECK_FALSE(PhaseOrbit{1, 2, 10}.first_in({4, 4}));
}
