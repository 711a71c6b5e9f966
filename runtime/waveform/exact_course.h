#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <memory>
#include <optional>
#include <variant>
#include <vector>

#include "lang/values/instant.h"
#include "runtime/rail/course_sink.h"

// Courses of a simulation as it solved them, without an error of drawing: for means over windows of time.
namespace rampart {

// Voltages have the sign that the profile writes.
enum class ExactQuantity : std::uint8_t { TerminalVoltage, LoadVoltage, Current };
inline constexpr std::size_t kExactQuantities = 3;
using ExactSums = std::array<double, kExactQuantities>;  // integrals over time, by quantity

// What a circuit did between two events.
struct ExactPiece;
struct ExactNode;

// Passes that are alike, one after another.
struct ExactRepeat {
  std::int64_t count = 0;
  double period = 0;            // s
  std::vector<ExactNode> body;  // of one pass; begins count from the beginning of the pass
};

struct ExactNode {
  double begin = 0;    // s from the beginning of the pass around it, or of the run
  double length = 0;   // s, of all passes
  ExactSums sums{};    // of all that is within
  ExactSums before{};  // from the beginning of the pass around it, or of the run
  std::variant<std::shared_ptr<const ExactPiece>, ExactRepeat> what;
};

// One rail.
class ExactCourse {
 public:
  ExactCourse() = default;
  // One after another without gaps, their `before` left open.
  explicit ExactCourse(std::vector<ExactNode> nodes);

  // The integral from the beginning of the run to `time`, s. Before the run its first value holds, and after it its
  // last.
  [[nodiscard]] double integral_to(ExactQuantity quantity, double time) const;
  // At a jump the value after it.
  [[nodiscard]] double value_at(ExactQuantity quantity, double time) const;
  // Over the `window` s before `end`; without a window the value there.
  [[nodiscard]] double mean(ExactQuantity quantity, double end, double window) const;

 private:
  std::vector<ExactNode> nodes_;
};

struct ExactCourses {
  std::vector<ExactCourse> rails;       // in the order of the table's rails
  std::optional<double> left_out_from;  // s: what comes later was too much to keep
};

// Pieces kept of all rails together.
inline constexpr std::int64_t kMaxExactPieces = 200'000;

// Keeps the courses of a simulation while it runs.
class ExactRecorder : public CourseSink {
 public:
  explicit ExactRecorder(std::size_t rails) : tracks_(rails) {}

  void take(std::size_t index, const RailRun& rail, double sign, const Instant& from, double length) override;
  void repeat(const Instant& from, const Instant& to, std::int64_t times) override;
  [[nodiscard]] bool is_full() const override { return left_out_from_.has_value(); }
  // The recording, whole.
  [[nodiscard]] ExactCourses finish();

 private:
  struct Track {
    std::vector<Instant> begins;  // of its nodes
    std::vector<ExactNode> nodes;
  };
  std::vector<Track> tracks_;
  std::int64_t pieces_ = 0;
  std::optional<double> left_out_from_;
};

}  // namespace rampart
