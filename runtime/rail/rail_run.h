#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "compiler/table/table.h"
#include "lang/values/instant.h"
#include "runtime/answer/event_log.h"
#include "runtime/answer/simulation.h"
#include "runtime/circuit/owned_circuit.h"
#include "runtime/load/output_traits.h"
#include "runtime/rail/figures.h"
#include "runtime/rail/heat.h"
#include "runtime/rail/limit_room.h"
#include "runtime/rail/protection.h"
#include "runtime/rail/rail_effort.h"
#include "runtime/rail/rail_way.h"
#include "runtime/rail/setpoint.h"
#include "runtime/rail/settling.h"

namespace rampart {

// One rail during a run: what its channels are set to, the circuit behind them, its protection and its figures.
//
// The caller leads all rails through the same steps: plan(), quiet_time(), then advance() by no more than that, and at
// rows apply(). All rails stand at one instant in between.
class RailRun {
 public:
  // What the coming time depends on besides the rows: numbers that must agree nearly, and things that must agree.
  struct State : circuit::Snapshot {
    ContactState contact;
    double limited_for = 0;            // s in constant current without a break
    std::vector<double> temperatures;  // K; they need not agree, see OutputHeat::safe_repeats()
  };

  RailRun(const Table& table, const RailSetup& setup, const RailLoad* load, const RailDeviation& deviation,
          EventLog& events);

  // One at the same instant whose figures are those from now on, to see what it does; see can_be_tried().
  [[nodiscard]] std::unique_ptr<RailRun> trial(EventLog& events) const;
  [[nodiscard]] bool can_be_tried() const { return heat_.empty() && circuit_->is_affine(); }
  // Goes on as another of the same rail would, `by` later, which is `passes` of a loop; see can_be_tried(). What it has
  // found so far, and what began before the other's last pass did, is its own.
  void continue_as(const RailRun& other, const Instant& by, const Instant& pass_began, const PassShift& passes);
  // What the setpoint still does without another row.
  void add_course(const Instant& now, std::vector<double>& course) const { setpoint_.add_course(now, course); }
  // How long ago what it is in began, s; less than 0 for what began before the pass.
  [[nodiscard]] std::vector<double> ages(const Instant& now, const Instant& pass_began) const;

  // Takes a row of one of the rail's channels; `base` is the start of its segment. In effect from apply() on.
  void take(const Row& row, const Instant& base) { setpoint_.take(row, base); }
  // The rows taken so far are in effect from now on; that the output is on, once its switch has closed.
  void apply(const Instant& now, const Passes& passes);
  // Closes the output's switch if that is due; tells whether.
  bool close_contact(const Instant& now);
  // The instant after `now` at which a straight run of the setpoint ends or the switch closes, if it comes first.
  [[nodiscard]] std::optional<Instant> corner(const Instant& now) const { return setpoint_.corner(now); }

  // Solves up to `length` s, with `to_row` s until the next row comes, and reads the protections. A cause: the rail
  // trips now.
  [[nodiscard]] std::optional<TripCause> plan(const Instant& now, double length, double to_row);
  [[nodiscard]] double quiet_time(const Instant& now);
  // Shortens the planned piece to the step that all rails take.
  void cut(double length) { circuit_->cut(length); }
  // Goes on by the planned piece.
  void advance(const Instant& from);
  void trip(TripCause cause, const Instant& now);
  // An interlock switches the rail off for good.
  void cut_off(const Instant& now);
  // What was to come after the present setpoint does not come.
  void interrupt() { settling_.forget(); }
  // What stands on the rail becomes `elements`. Those written as one that stood there are the same part and keep what
  // they hold; what the others held is gone.
  void replace_load(const std::vector<LoadElement>& elements, const Instant& now);

  // Remembers what the rail reads now under this name.
  void read_mark(std::string_view mark);
  [[nodiscard]] std::vector<std::int64_t> marks_reached() const;
  // Reached as often as another rail's, times `times`, more.
  void add_marks(const std::vector<MarkReading>& marks, std::int64_t times);
  [[nodiscard]] const std::vector<MarkReading>& marks() const { return marks_; }
  // Counts what was added to the marks since `then` so many times more.
  void repeat_marks(const std::vector<std::int64_t>& then, std::int64_t times);
  // A straight run of the setpoint has ended: its slope jumps.
  void turn_corner(const Instant& now);
  // Lets a change of mode at the end of the last piece take effect, if no row has come between.
  void settle_pending(const Instant& now);
  // After passes were added without being walked: what has begun since `pass_began` began later.
  void shift(const Instant& by, const Instant& pass_began);
  // The switch closes later by that.
  void put_off_contact(const Instant& by) { setpoint_.put_off_contact(by); }
  // How often, up to `most`, what happened since `before`, `length` s ago, can come again without an output getting
  // too hot, and the heat of that.
  [[nodiscard]] std::int64_t safe_repeats(const State& before, double length, std::int64_t most) const;
  void repeat_heat(const State& before, double length, std::int64_t times);
  void finish(const Instant& now);

  [[nodiscard]] const circuit::Circuit& circuit() const { return *circuit_; }
  [[nodiscard]] const RailSums& sums() const { return sums_; }
  [[nodiscard]] RailSums& sums() { return sums_; }
  [[nodiscard]] const Doing& doing() const { return doing_; }
  [[nodiscard]] bool tripped() const { return trip_.has_value(); }
  // The load goes on by time alone, and is followed in that.
  [[nodiscard]] bool has_clock() const { return effort_.follows_clock(); }
  [[nodiscard]] bool clock_runs() const { return effort_.clock_runs(); }
  // The setpoint stands still until the next row, and the output's switch waits for nothing.
  [[nodiscard]] bool rests(const Instant& now) const;
  [[nodiscard]] bool limited() const { return limited_since_.has_value(); }
  [[nodiscard]] RailId id() const { return rail_; }
  [[nodiscard]] RailFigures figures() const;
  // See RailFigures::clears_s. The rail does not come back from there.
  [[nodiscard]] std::optional<double> clear();
  [[nodiscard]] bool is_left_charged() const;
  void add_margins(std::vector<Margin>& margins) const;
  [[nodiscard]] const std::vector<ModeChatter>& chatter() const { return chatter_; }

  [[nodiscard]] State state(const Instant& now) const;
  // So many of the state's first numbers are those of a circuit whose courses are affine in them.
  [[nodiscard]] std::size_t affine_numbers() const { return circuit_->affine_state().size(); }
  // Puts the circuit where passes that are not gone through have brought those numbers.
  void drift_to(const std::vector<double>& numbers);
  [[nodiscard]] RailWay way() const;
  [[nodiscard]] std::vector<double> peaks() const { return {current_.value, power_.value, voltage_.value}; }

 private:
  RailRun(const RailRun&) = default;
  void take_effect(const Instant& now, const Doing& cause);
  void settle(std::optional<circuit::Mode> expected, const Instant& now);
  void settle_circuit(std::optional<circuit::Mode> expected);
  void switch_off(const Instant& now);
  [[nodiscard]] bool stays_off() const { return tripped() || cut_off_; }
  void note_modes(circuit::Mode before, const Instant& now);
  void bound_effort(const Instant& now, double length, double to_row);
  void update_peaks(const Instant& from);
  // What the output itself gives, apart from its capacitance.
  [[nodiscard]] const Peak& regulator_power() const { return output_.capacitance == 0 ? power_ : regulator_power_; }
  void watch_headroom(const Instant& from);
  void end_headroom();
  void end_limited(const Instant& now);
  void log(EventKind kind, const Instant& now) { log(kind, now, doing_); }
  void log(EventKind kind, const Instant& now, const Doing& doing);

  RailId rail_;
  const RailLoad* load_;
  EventLog* events_;
  double sign_ = 1;
  RailOutput output_;
  Setpoint setpoint_;
  circuit::OwnedCircuit circuit_;
  RailProtection protection_;
  std::vector<OutputHeat> heat_;  // one a channel that can get too hot
  RailSums sums_;
  LimitRoom limit_room_;
  Settling settling_;
  std::optional<double> power_envelope_;
  std::string output_name_;
  std::optional<HeadroomSpent> headroom_now_;  // at the end of the last piece
  std::optional<HeadroomSpent> headroom_;
  std::optional<RailLoad> replaced_;      // what stands there since a fault
  std::vector<double> lost_in_replaced_;  // J, in the elements before it
  double stored_at_start_ = 0;
  Doing doing_;
  Doing switched_on_by_;  // the last time the rows asked for it
  std::optional<Trip> trip_;
  bool cut_off_ = false;
  bool was_on_ = false;
  std::optional<Instant> limited_since_;
  Peak longest_limited_;
  Peak current_;
  Peak power_;
  Peak regulator_power_;  // with an output capacitance, which gives peaks of its own
  Peak voltage_;
  std::vector<MarkReading> marks_;
  std::vector<ModeChatter> chatter_;
  RailEffort effort_;
  std::optional<circuit::Mode> pending_;
};

}  // namespace rampart
