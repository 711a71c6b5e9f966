#pragma once

#include <array>
#include <deque>
#include <optional>
#include <vector>

#include "runtime/as_run/answer.h"
#include "runtime/as_run/envelope.h"

// Readings outside of what they may be, put together by what they are consistent with.
namespace rampart::as_run {

// A reading with what it may be.
struct Judged {
  double run_s = 0;
  double log_s = 0;
  Stamp stamp;
  double measured = 0;
  double predicted = 0;
  Band band;
  double error = 0;            // of the meter
  std::optional<double> amps;  // with a voltage: the current that was read with it
  double predicted_amps = 0;
  double amps_error = 0;
  double limit = 0;      // A
  bool limited = false;  // the supply says that it is in constant current
  [[nodiscard]] bool is_outside() const { return measured < band.low || measured > band.high; }
};

// What a track asks of what surrounds it.
class Surroundings {
 public:
  virtual ~Surroundings() = default;
  // What a reading would be, were the rail so much later; earlier where it is less than 0.
  [[nodiscard]] virtual Band band_if_late(Measured quantity, const Judged& reading, double late) = 0;
  // The rail whose readings these could be, other than the track's own; none where there is none.
  [[nodiscard]] virtual std::optional<std::size_t> rail_like(Measured quantity, const Judged& reading) = 0;
  // The nominal run is in constant current at some time in between.
  [[nodiscard]] virtual bool limited_between(double from, double to) = 0;
  [[nodiscard]] virtual Span statement_at(double run_s) = 0;
};

// Leaves out what follows from another excursion of the same rail at the same time: a current from a voltage that is
// late, early or missing, a voltage from another current limit. `interval`: between readings, s.
void drop_consequences(std::vector<Excursion>& excursions, double interval);
// Leaves out what another log shows as well.
void drop_repeats(std::vector<Excursion>& excursions, double interval);

// Excursions that are kept; those beyond are counted.
inline constexpr std::size_t kMostExcursions = 200;

// Follows one quantity of a rail.
class ExcursionTrack {
 public:
  // `interval`: between readings, s; `farthest`: how late or early a row is looked for, s.
  ExcursionTrack(RailId rail, Measured quantity, double interval, double farthest, Surroundings& around);

  void take(const Judged& reading);
  void finish();

  [[nodiscard]] const std::vector<Excursion>& excursions() const { return excursions_; }
  [[nodiscard]] std::int64_t single() const { return single_; }
  [[nodiscard]] std::int64_t left_out() const { return left_out_; }
  // The last reading was part of one.
  [[nodiscard]] bool is_open() const { return open_.count > 1; }

 private:
  // What a straight line through the differences is worked out from.
  struct Sums {
    double count = 0;
    double d = 0;  // of measured - predicted, its square, ...
    double dd = 0;
    double p = 0;
    double pp = 0;
    double pd = 0;
    double error = 0;  // of the meter
    double width = 0;  // half of the band
    Band predicted;

    void add(const Judged& reading);
    void add(const Sums& other);
  };
  // Of the readings of a stretch, or of none.
  struct Stretch {
    std::int64_t count = 0;
    Judged first;
    Judged last;
    Judged worst;
    double worst_share = 0;
    Sums sums;
    Band measured;
    std::int64_t zero = 0;
    std::int64_t turned = 0;
    std::int64_t like = 0;
    std::optional<std::size_t> other;
    std::array<std::int64_t, 4> scaled{};
    std::int64_t with_amps = 0;
    double amps_off = 0;
    double limit = 0;
    Band amps;
    double amps_error = 0;
    bool limited = false;
    std::vector<Judged> early;  // its first readings
    std::optional<Band> late;   // by how much the rail may be late, if that explains them all
    bool late_known = false;
  };
  // What a stretch is consistent with.
  struct Explanation {
    Cause cause = Cause::Unknown;
    std::optional<double> amount;
    double room = 0;  // of the amount
    std::string other;
  };

  void add(const Judged& reading);
  void close(const Judged* after);
  void look_for_lateness();
  [[nodiscard]] double lateness_step() const;
  [[nodiscard]] bool take_lateness(double late);
  void narrow_lateness(const Judged& after);
  [[nodiscard]] bool fits_late(double late);
  [[nodiscard]] Explanation explain();
  [[nodiscard]] std::optional<Explanation> explain_limit() const;
  [[nodiscard]] std::optional<Explanation> explain_line(const Sums& sums) const;
  // Where the readings of a stretch stand at one level, those before it may tell an offset from a gain.
  [[nodiscard]] bool is_gain_before(double offset, double gain, double level) const;
  [[nodiscard]] bool merges(const Explanation& explanation) const;
  // Both stretches are of one offset or gain; which of them may show only now.
  [[nodiscard]] std::optional<Explanation> joined(const Explanation& explanation) const;
  void note_worst(Excursion& excursion);
  void check_last(const Judged& reading);
  [[nodiscard]] Place place_of_reading(const Judged& reading) const;

  RailId rail_;
  Measured quantity_;
  double interval_;
  double farthest_;
  Surroundings* around_;
  Stretch open_;
  std::vector<Excursion> excursions_;
  Explanation last_;  // of the last excursion
  Sums last_sums_;
  double last_worst_share_ = 0;
  std::deque<Judged> before_;      // the last readings that were inside
  std::int64_t contradicted_ = 0;  // readings in a row since then that it does not explain
  bool last_is_over_ = true;
  std::int64_t single_ = 0;
  std::int64_t tries_ = 0;  // of a lateness
  std::int64_t left_out_ = 0;
};

}  // namespace rampart::as_run
