#include "runtime/waveform/exact_course.h"

#include <algorithm>
#include <utility>

#include "runtime/circuit/circuit.h"
#include "runtime/rail/rail_run.h"

namespace rampart {

// Its time runs from 0 to 1. It stays where it is: its signals point at its basis.
struct ExactPiece {
  circuit::Basis basis;
  std::array<circuit::Signal, kExactQuantities> signals;
};

namespace {

// Instants that differ by less, s, are one.
constexpr double kOneInstant = 1e-15;

using Nodes = std::vector<ExactNode>;

// Sums of what comes before each node of a pass; gives those of all of them.
ExactSums add_up(Nodes& nodes) {
  ExactSums sums{};
  for (ExactNode& node : nodes) {
    node.before = sums;
    for (std::size_t i = 0; i < sums.size(); ++i) sums[i] += node.sums[i];
  }
  return sums;
}

// The last node that begins at or before `time`, or the first.
const ExactNode& node_at(const Nodes& nodes, double time) {
  const auto after = std::upper_bound(nodes.begin(), nodes.end(), time,
                                      [](double wanted, const ExactNode& node) { return wanted < node.begin; });
  return after == nodes.begin() ? *after : *(after - 1);
}

// Where in a repeat a time from its begin lies.
struct PlaceInPasses {
  std::int64_t pass = 0;
  double time = 0;  // from the begin of that pass
};

PlaceInPasses place_in(const ExactRepeat& repeat, double time) {
  const double passes = std::clamp(time / repeat.period, 0.0, static_cast<double>(repeat.count - 1));
  const auto pass = static_cast<std::int64_t>(passes);
  return {pass, time - static_cast<double>(pass) * repeat.period};
}

double share_of(const ExactNode& node, double time) {
  return node.length > 0 ? std::clamp((time - node.begin) / node.length, 0.0, 1.0) : 0;
}

double value_in(const Nodes& nodes, std::size_t quantity, double time) {
  const ExactNode& node = node_at(nodes, time);
  if (const auto* piece = std::get_if<std::shared_ptr<const ExactPiece>>(&node.what)) {
    return (*piece)->signals[quantity].value(share_of(node, time));
  }
  const auto& repeat = std::get<ExactRepeat>(node.what);
  return value_in(repeat.body, quantity, place_in(repeat, time - node.begin).time);
}

double integral_in(const Nodes& nodes, std::size_t quantity, double time) {
  const ExactNode& node = node_at(nodes, time);
  const double before = node.before[quantity];
  if (const auto* piece = std::get_if<std::shared_ptr<const ExactPiece>>(&node.what)) {
    return before + node.length * integral_of_begin((*piece)->signals[quantity], share_of(node, time));
  }
  const auto& repeat = std::get<ExactRepeat>(node.what);
  const PlaceInPasses place = place_in(repeat, time - node.begin);
  const double of_pass = node.sums[quantity] / static_cast<double>(repeat.count);
  return before + of_pass * static_cast<double>(place.pass) + integral_in(repeat.body, quantity, place.time);
}

}  // namespace

ExactCourse::ExactCourse(std::vector<ExactNode> nodes) : nodes_(std::move(nodes)) {
  add_up(nodes_);
}

double ExactCourse::value_at(ExactQuantity quantity, double time) const {
  return nodes_.empty() ? 0 : value_in(nodes_, static_cast<std::size_t>(quantity), time);
}

double ExactCourse::integral_to(ExactQuantity quantity, double time) const {
  if (nodes_.empty()) return 0;
  const double end = nodes_.back().begin + nodes_.back().length;
  const double inside = std::clamp(time, 0.0, end);
  const double sum = integral_in(nodes_, static_cast<std::size_t>(quantity), inside);
  return inside == time ? sum : sum + (time - inside) * value_at(quantity, inside);
}

double ExactCourse::mean(ExactQuantity quantity, double end, double window) const {
  if (window <= 0) return value_at(quantity, end);
  return (integral_to(quantity, end) - integral_to(quantity, end - window)) / window;
}

void ExactRecorder::take(std::size_t index, const RailRun& rail, double sign, const Instant& from, double length) {
  if (index == 0 && pieces_ >= kMaxExactPieces && !left_out_from_) left_out_from_ = from.seconds();
  if (left_out_from_ || length <= 0) return;
  const circuit::Piece& solved = rail.circuit().piece();
  auto piece = std::make_shared<ExactPiece>();
  piece->basis = solved.basis;
  const auto copy = [&piece](const circuit::Signal& signal, double factor) {
    circuit::Signal result(piece->basis, signal.weights());
    return factor == 1 ? result : result.times(factor);
  };
  piece->signals = {copy(solved.terminal_voltage, sign), copy(solved.port_voltage, sign),
                    copy(solved.terminal_current, 1)};
  ExactNode node;
  node.length = length;
  for (std::size_t i = 0; i < kExactQuantities; ++i) {
    node.sums[i] = length * integral_of_begin(piece->signals[i], 1);
  }
  node.what = std::move(piece);
  Track& track = tracks_[index];
  track.begins.push_back(from);
  track.nodes.push_back(std::move(node));
  ++pieces_;
}

void ExactRecorder::repeat(const Instant& from, const Instant& to, std::int64_t times) {
  if (left_out_from_ || times <= 0) return;
  for (Track& track : tracks_) {
    std::size_t first = track.nodes.size();
    while (first > 0 && track.begins[first - 1].since(from) >= -kOneInstant) --first;
    if (first == track.nodes.size()) continue;
    ExactRepeat repeat{times + 1, to.since(from), {}};
    for (std::size_t i = first; i < track.nodes.size(); ++i) {
      track.nodes[i].begin = track.begins[i].since(from);
      repeat.body.push_back(std::move(track.nodes[i]));
    }
    track.nodes.resize(first);
    track.begins.resize(first);
    ExactNode node;
    node.length = repeat.period * static_cast<double>(repeat.count);
    node.sums = add_up(repeat.body);
    for (double& sum : node.sums) sum *= static_cast<double>(repeat.count);
    node.what = std::move(repeat);
    track.nodes.push_back(std::move(node));
    track.begins.push_back(from);
  }
}

ExactCourses ExactRecorder::finish() {
  ExactCourses result;
  result.left_out_from = left_out_from_;
  for (Track& track : tracks_) {
    for (std::size_t i = 0; i < track.nodes.size(); ++i) track.nodes[i].begin = track.begins[i].seconds();
    result.rails.emplace_back(std::move(track.nodes));
  }
  return result;
}

}  // namespace rampart
