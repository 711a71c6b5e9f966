#pragma once

#include <optional>
#include <vector>

#include "compiler/table/table.h"
#include "runtime/answer/simulation.h"
#include "runtime/as_run/answer.h"
#include "runtime/as_run/measured_courses.h"
#include "runtime/log/log_reader.h"

namespace rampart::as_run {

// What the log tells of trips.
struct SeenTrips {
  bool is_told = false;  // the log has events, or says whether outputs are on
  std::vector<bool> rails;
};

// The expectations of a profile on what was measured, those about faults left out.
class ExpectationCheck {
 public:
  // `simulation` of the run that was played; it outlives this.
  ExpectationCheck(const Table& table, const Simulation& simulation);

  void take(std::size_t rail, double run_s, const RailPoint& point, LogMode mode);
  // `figures` by rail; `duration_error`: of the run, s. `is_whole`: the log has readings all the way.
  [[nodiscard]] std::vector<MeasuredResult> finish(const std::vector<MeasuredFigures>& figures, double duration_error,
                                                   const SeenTrips& trips, bool is_whole) const;

 private:
  // Largest reading less its error, and with it.
  struct Extreme {
    bool any = false;
    double surely = 0;
    double possibly = 0;
    void take(double value, double error);
  };
  // A value at a mark that was reached once.
  struct AtMark {
    double run_s = 0;
    std::string mark;
    std::vector<std::optional<RailPoint>> before;  // by rail
    std::vector<std::optional<RailPoint>> after;
  };
  struct Peaks {
    Extreme volts;
    Extreme amps;
    Extreme watts;
    double limited_s = 0;
    bool mode_known = false;
    double last_s = 0;
    bool was_limited = false;
    bool any = false;
  };
  // A figure lies between these.
  struct Between {
    double low = 0;
    double high = 0;
  };
  [[nodiscard]] std::optional<Between> figure_of(const ExpectFigure& expected,
                                                 const std::vector<MeasuredFigures>& figures, double duration_error,
                                                 std::string& why) const;
  [[nodiscard]] std::optional<Between> at_mark(const ExpectFigure& expected, std::string& why) const;

  const Table* table_;
  const Simulation* simulation_;
  std::vector<Peaks> peaks_;
  std::vector<AtMark> marks_;
};

}  // namespace rampart::as_run
