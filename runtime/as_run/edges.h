#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <vector>

#include "runtime/waveform/waveform.h"

// Instants at which the voltage of a rail passes a level: what a log and a prediction have in common when nothing else
// tells where one lies in the other.
namespace rampart::as_run {

struct Edge {
  std::size_t rail = 0;
  std::size_t level = 0;  // of the rail
  bool rising = false;
  double time = 0;   // s
  double early = 0;  // it lies between these
  double late = 0;
};

// A rail's levels, V, and how far it must get past one, V, before it has passed it.
struct RailLevels {
  std::vector<double> levels;
  double room = 0;
};

// Up to five levels of each rail that it passes and does not rest at.
[[nodiscard]] std::vector<RailLevels> levels_of(const Waveforms& waveforms);

// Finds the edges of one rail, value by value.
class EdgeWatch {
 public:
  EdgeWatch(std::size_t rail, const RailLevels& levels);

  // Times never go back. Edges are added.
  void take(double time, double volts, std::vector<Edge>& edges);

 private:
  struct State {
    std::optional<bool> above;
    std::optional<Edge> passed;  // on the way, not yet by `room`
  };
  void follow(std::size_t level, double time, double volts, std::vector<Edge>& edges);

  std::size_t rail_;
  const RailLevels& levels_;
  std::vector<State> states_;
  std::optional<double> last_time_;
  double last_volts_ = 0;
};

// More edges are not looked at, of a prediction or a log.
inline constexpr std::size_t kMostEdges = 20'000;

// The edges of a prediction, in the order of their times. At most kMostEdges.
[[nodiscard]] std::vector<Edge> edges_of(const Waveforms& waveforms, const std::vector<RailLevels>& levels);

}  // namespace rampart::as_run
