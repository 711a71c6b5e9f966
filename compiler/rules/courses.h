#pragma once

#include <cstdint>
#include <optional>
#include <vector>

namespace rampart::rules {

// How to take a condition where what is set and what arrives may differ.
enum class Reading : std::uint8_t {
  AsWritten,
  Surely,   // true whatever accuracy and stairs do
  Possibly  // true if they let it
};

struct Least {
  double value = 0;
  double time = 0;  // s from the start of the piece
};

// What the conditions of one rule do during one piece of a run, in which nothing jumps. A piece without length is one
// instant.
class Courses {
 public:
  virtual ~Courses() = default;
  // In s.
  [[nodiscard]] virtual double length() const = 0;
  // Adds the times inside the piece at which the condition's truth may change.
  virtual void add_changes(std::size_t condition, Reading reading, std::vector<double>& times) const = 0;
  [[nodiscard]] virtual bool holds(std::size_t condition, Reading reading, double time) const = 0;
  // The least signed distance of the condition on [from, to], if it is below `known`; -inf at a jump of what must not.
  [[nodiscard]] virtual std::optional<Least> least_below(std::size_t condition, Reading reading, double from, double to,
                                                         double known) const = 0;
  // The greatest signed distance of the condition as written, if it is above `known`.
  [[nodiscard]] virtual std::optional<double> greatest_above(std::size_t condition, double known) const = 0;

  // Of the first comparison of the first condition, as written: its value, how much of it may be rounding, and where it
  // turns around.
  [[nodiscard]] virtual double height(double time) const = 0;
  [[nodiscard]] virtual double height_noise() const = 0;
  virtual void add_turns(std::vector<double>& times) const = 0;
};

}  // namespace rampart::rules
