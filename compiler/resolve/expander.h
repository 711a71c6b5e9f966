#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "compiler/resolve/work.h"

namespace rampart::resolving {

// Turns blocks into programs: calls and `for` are expanded, `repeat`, `together` and `track` stay.
class Expander {
 public:
  explicit Expander(Work& work) : work_(work) {}

  // Finds sequences that call themselves, directly or through others.
  void find_recursion();
  [[nodiscard]] Program expand(const ast::Block& block);
  // Looks over a block that was not expanded, or not to its end: values of `parameters` are unknown, and calls in it
  // are not followed.
  void look_over(const FileScope& scope, const ast::Block& body, const std::vector<ast::Name>& parameters);
  // True once an expansion was given up: it came to too much, or too deep.
  [[nodiscard]] bool cut_short() const { return cut_short_ || stopped_; }

 private:
  // Calls, in calls.cpp.
  void expand_one(const ast::Do& call, Frame& frame, Program& out);
  Definition* called_sequence(const ast::Do& call, const Frame& frame);
  std::optional<Frame> call_frame(const ast::Do& call, const Definition& sequence, const Frame& frame);
  void look_over_arguments(const ast::Do& call, const Frame& frame);
  Value argument(const ast::Expression& expression, const Frame& frame);

  // Statements with blocks, in expander.cpp.
  void block(const ast::Block& block, Frame& frame, Program& out);
  void nested(const ast::Block& block, Frame& frame, Program& out);
  void statement(const ast::Statement& statement, Frame& frame, Program& out);
  void expand_one(const ast::Group& group, Frame& frame, Program& out);
  void expand_one(const ast::Repeat& repeat, Frame& frame, Program& out);
  void expand_one(const ast::ForRange& loop, Frame& frame, Program& out);
  void expand_one(const ast::ForList& loop, Frame& frame, Program& out);
  void expand_one(const ast::Together& together, Frame& frame, Program& out);
  void expand_one(const ast::Track& track, Frame& frame, Program& out);
  void iterate(const ast::Name& variable, Value value, const ast::Block& body, Frame& frame, Program& out);
  // The unit that the first of the values of this dimension is written in that has one; empty where none has.
  std::string_view unit_among(const std::vector<const ast::Expression*>& expressions, const Dimension& dimension,
                              const Frame& frame);
  std::optional<std::int64_t> steps_of(const ast::ForRange& loop, const Quantity& first, const Rational& last,
                                       const Rational& step);
  std::optional<std::int64_t> pass_count(const ast::Expression& count, const Frame& frame);
  // Counts one thing more; false once it is too much.
  bool spend(std::int64_t& spent);
  // One level down; false if it would be too deep.
  bool descend();

  // Statements without, in simple_statements.cpp.
  void expand_one(const ast::BadStatement&, Frame&, Program&) {}
  void expand_one(const ast::Switch& action, Frame& frame, Program& out);
  void expand_one(const ast::Step& step, Frame& frame, Program& out);
  void expand_one(const ast::Ramp& ramp, Frame& frame, Program& out);
  void expand_one(const ast::Waveform& waveform, Frame& frame, Program& out);  // waveforms.cpp
  void expand_one(const ast::Limit& limit, Frame& frame, Program& out);
  void expand_one(const ast::Dwell& dwell, Frame& frame, Program& out);
  void expand_one(const ast::Mark& mark, Frame& frame, Program& out);
  void expand_one(const ast::Measurement& measurement, Frame& frame, Program& out);
  void expand_one(const ast::SetLine& action, Frame& frame, Program& out);
  void expand_one(const ast::Pulse& pulse, Frame& frame, Program& out);
  void expand_one(const ast::Await& await, Frame& frame, Program& out);
  // Those whose rail and values are known.
  std::vector<Motion> motions(const std::vector<ast::Target>& targets, Drive drive, const Frame& frame);
  // The points of a waveform, as it writes or names them; empty where one of them is unknown.
  std::optional<Shape> shape_of(const ast::Waveform& waveform, const Frame& frame);
  std::optional<Shape> written_shape(const ast::Waveform& waveform, const Frame& frame);
  std::optional<Rational> rate(const ast::Expression& expression, const Frame& frame);
  bool check_limit(const ast::Target& target, const Motion& motion);
  std::optional<LineId> output_line(const ast::Name& name, const Frame& frame);
  bool is_new_name(const ast::Label& label, const std::string& name);
  std::optional<Await> awaited(const ast::AwaitLine& what, const Frame& frame);
  std::optional<Await> awaited(const ast::AwaitCondition& what, const Frame& frame);
  std::optional<Await> awaited(const ast::AwaitOperator& what, const Frame& frame);

  template <class What>
  void emit(What what, Program& out) {
    Statement& statement = out.emplace_back();
    statement.span = statement_;
    statement.call = work_.reporter.call();
    statement.what = std::move(what);
  }

  Work& work_;
  Span statement_;  // the one being expanded
  int depth_ = 0;
  std::int64_t statements_ = 0;
  std::int64_t iterations_ = 0;  // of `for`, whose bodies may be empty
  bool stopped_ = false;
  bool cut_short_ = false;
  bool looking_over_ = false;
};

}  // namespace rampart::resolving
