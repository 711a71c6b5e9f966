#pragma once

#include <cstdint>
#include <deque>
#include <optional>
#include <variant>
#include <vector>

#include "lang/values/instant.h"
#include "runtime/circuit/circuit.h"

namespace rampart {

// What a rail did lately: its means over the time before an instant, exact, from the closed forms of its pieces. Passes
// that were added without being gone through are kept as a count.
class Past {
 public:
  // V and A; or their integrals, V s and A s.
  struct Means {
    double voltage = 0;
    double current = 0;
  };

  // Remembers `reach` s; none for 0. The voltage is that of the load where it is `sensed`, else of the terminals.
  Past(double reach, bool sensed) : reach_(reach), sensed_(sensed) {}

  // The circuit goes through its planned piece.
  void advance(const circuit::Circuit& circuit, const Instant& from);
  // From one instant to the end of what was gone through last. Empty where something in between is not known.
  [[nodiscard]] std::optional<Means> means(const Instant& from, const Instant& to) const;
  // What happened between the two instants happens so many times more, which takes `added`.
  void repeat(const Instant& from, const Instant& to, std::int64_t times, const Instant& added);
  // Nothing before now is known any more.
  void forget() { stretches_.clear(); }
  // All of it was later.
  void shift(const Instant& by);
  // Takes over what another knows from `began` on, `by` later.
  void continue_as(const Past& other, const Instant& by, const Instant& began);

 private:
  // Older ones are forgotten.
  static constexpr std::size_t kMostStretches = 100'000;

  // A piece: time runs from 0 to 1 over it, see Basis.
  struct Course {
    std::size_t degree = 0;
    std::vector<circuit::Basis::Pole> poles;
    circuit::Weights voltage;
    circuit::Weights current;
  };
  struct Stretch;
  struct Repeats {
    double period = 0;  // s
    Means area;         // of one
    std::vector<Stretch> body;
  };
  struct Stretch {
    Instant begin;
    double length = 0;  // s
    Means area;
    std::variant<Course, Repeats> what;
  };

  // The integral over the last so many s.
  [[nodiscard]] static Means tail(const Stretch& stretch, double seconds);
  template <class Stretches>
  [[nodiscard]] static Means tail_of(const Stretches& stretches, double seconds);
  void prune(const Instant& now);

  double reach_;
  bool sensed_;
  std::deque<Stretch> stretches_;  // one after another, without gaps
};

}  // namespace rampart
