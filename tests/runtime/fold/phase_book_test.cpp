#include "runtime/fold/phase_book.h"

#include <doctest/doctest.h>

#include <functional>
#include <map>
#include <random>

using namespace rampart;

namespace {

// Passes whose arcs begin at given phases, and what each does with a state.
class ToyPasses final : public PhasePasses {
 public:
  using Next = std::function<std::optional<std::size_t>(std::size_t state, std::size_t arc)>;

  ToyPasses(const PhaseOrbit& orbit, std::vector<std::int64_t> begins, Next next)
      : orbit_(orbit), begins_(std::move(begins)), next_(std::move(next)) {}

  bool goes_on() override { return played < most_played; }
  PhaseArc alike(std::int64_t pass) override {
    const std::size_t arc = arc_of(orbit_.phase(pass));
    return {begins_[arc], arc + 1 < begins_.size() ? begins_[arc + 1] - 1 : orbit_.modulus - 1};
  }
  std::optional<std::size_t> play(std::size_t state, std::int64_t pass) override {
    ++played;
    return next_(state, arc_of(orbit_.phase(pass)));
  }
  [[nodiscard]] std::size_t arc_of(std::int64_t phase) const {
    std::size_t arc = 0;
    while (arc + 1 < begins_.size() && begins_[arc + 1] <= phase) ++arc;
    return arc;
  }

  std::size_t played = 0;
  std::size_t most_played = 1'000'000;

 private:
  const PhaseOrbit& orbit_;
  std::vector<std::int64_t> begins_;
  Next next_;
};

}  // namespace

// States that remember the arcs of the last passes, as a circuit does. Source: the passes gone through one by one.
TEST_CASE("the states of passes by their phase") {
  std::mt19937 engine(7);
  for (int round = 0; round < 200; ++round) {
    const auto modulus = static_cast<std::int64_t>(200 + engine() % 5000);
    const PhaseOrbit orbit{static_cast<std::int64_t>(engine() % 200), static_cast<std::int64_t>(1 + engine() % 199),
                           modulus};
    std::vector<std::int64_t> begins = {0};
    while (begins.size() < 5) begins.push_back(begins.back() + 1 + static_cast<std::int64_t>(engine() % 40));
    const std::size_t remembered = 1 + engine() % 3;
    std::size_t memory = 1;
    for (std::size_t i = 0; i < remembered; ++i) memory *= 5;
    const auto next = [&](std::size_t state, std::size_t arc) { return (state * 5 + arc) % memory; };
    ToyPasses passes(orbit, begins,
                     [&](std::size_t state, std::size_t arc) { return std::optional(next(state, arc)); });
    PhaseBook book;
    const std::int64_t count = 2000;
    const auto map = book.find(orbit, count, memory, 5000, passes);
    REQUIRE(map);
    CHECK(map->passes == count);
    std::size_t state = memory;
    for (std::int64_t pass = 0; pass < count; ++pass) {
      if (pass > 8) {
        const PhaseCell* cell = map->cell_of(orbit.phase(pass));
        REQUIRE(cell != nullptr);
        CHECK(cell->state == state);
      }
      state = next(state, passes.arc_of(orbit.phase(pass)));
    }
    // Asked again, nothing is played again.
    const std::size_t played = passes.played;
    CHECK(book.find(orbit, count, memory, 0, passes));
    CHECK(passes.played == played);
  }
}

// By hand: a counter never comes to the same state again.
TEST_CASE("states that do not close") {
  const PhaseOrbit orbit{0, 7, 1000};
  ToyPasses passes(orbit, {0, 500}, [](std::size_t state, std::size_t) { return std::optional(state + 1); });
  PhaseBook book;
  CHECK_FALSE(book.find(orbit, 100'000, 0, 1000, passes));
}

// A search of passes that are long ends once they have taken what they may, however many it may play.
TEST_CASE("a search that takes too much is given up") {
  const PhaseOrbit orbit{0, 7, 1000};
  ToyPasses passes(orbit, {0, 500}, [](std::size_t state, std::size_t) { return std::optional(state + 1); });
  passes.most_played = 10;
  PhaseBook book;
  CHECK_FALSE(book.find(orbit, 100'000, 0, 1000, passes));
  CHECK(passes.played == 10);
}

// By hand: of phases 0, 7, 14, ... that of pass 143, 1 after a turn, is the first in the arc of 1 alone.
TEST_CASE("a pass that ends otherwise is the last of the map") {
  const PhaseOrbit orbit{0, 7, 1000};
  ToyPasses passes(orbit, {0, 1, 2}, [](std::size_t, std::size_t arc) {
    return arc == 1 ? std::nullopt : std::optional<std::size_t>(1 + arc);
  });
  PhaseBook book;
  const auto map = book.find(orbit, 100'000, 0, 1000, passes);
  REQUIRE(map);
  CHECK(map->passes == 144);
}
