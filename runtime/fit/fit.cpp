#include "runtime/fit/fit.h"

#include <algorithm>
#include <cmath>
#include <memory>
#include <utility>

#include "lang/findings/files.h"
#include "lang/findings/logs.h"
#include "runtime/as_run/commanded.h"
#include "runtime/as_run/located_run.h"
#include "runtime/fit/digits.h"
#include "runtime/fit/fit_model.h"
#include "runtime/fit/fitted_file.h"
#include "runtime/fit/noise.h"
#include "runtime/load/load_file.h"
#include "runtime/play/simulate.h"
#include "runtime/waveform/exact_course.h"

namespace rampart::fit {
namespace {

// A value counts as determined where the log leaves less than half of what its tolerance leaves: of anything between -1
// and 1 the standard deviation is 0.577.
constexpr double kMostError = 0.577 / 2;
// Two values whose errors go together like this are not told apart.
constexpr double kTogether = 0.7;
// From here on a standard error is that of the tolerance itself.
constexpr double kAsTolerance = 0.95 * 0.577;

// With fewer readings that show a value, none checks another: one reading that seems to meet a short spike of current
// would give a capacitance.
constexpr double kFewestReadings = 3;

// How many readings show a parameter: that many of equal weight would tell as much.
double readings_that_show(const Matrix& slopes, std::size_t parameter) {
  double squares = 0;
  double fourths = 0;
  for (std::size_t row = 0; row < slopes.rows(); ++row) {
    const double square = slopes(row, parameter) * slopes(row, parameter);
    squares += square;
    fourths += square * square;
  }
  return fourths > 0 ? squares * squares / fourths : 0;
}

// What is known of the parameters after a solution.
struct Spread {
  Matrix noise{0, 0};    // variances by the noise of the readings
  Matrix known{0, 0};    // and by what was known before
  Matrix inverse{0, 0};  // of the information
};

class Fitter {
 public:
  Fitter(Files& files, const std::vector<as_run::LogRequest>& logs, const Job& job, Fitted& result)
      : logs_(logs),
        job_(job),
        result_(result),
        findings_(result.answer.findings),
        run_(files, {result.answer.compiled.run(), result.answer.compiled.safe(), result.answer.predictions.load.get()},
             findings_, job) {}

  void fit() {
    if (!run_.read(logs_) || !run_.find()) return;
    as_run::AsPlayed played{run_.waits(), {}, {}};
    nominal_ = as_run::record(run_.played(), played, {}, job_.quietly()).nominal;
    run_.settle(nominal_);
    std::unique_ptr<as_run::CommandCheck> commands;
    if (run_.leader().has_commands()) {
      commands = as_run::check_commands(run_, 0, job_);
      std::vector<std::string> followed;
      played.commanded = as_run::commanded_of(*commands, run_, nominal_.simulation.segment_starts, followed);
      if (!played.commanded.empty()) nominal_ = as_run::record(run_.played(), played, {}, job_.quietly()).nominal;
    }
    const std::vector<std::size_t> unfollowed =
        commands ? as_run::unfollowed_rails(*commands, run_) : std::vector<std::size_t>{};
    incidents_.waits = std::move(played.waits);
    incidents_.commanded = std::move(played.commanded);
    series_ = read_series(run_, nominal_, kept_until(), job_, fit_.left_out);
    for (const std::size_t rail : unfollowed) {
      std::erase_if(series_, [rail](const Series& series) { return series.rail == rail; });
      fit_.left_out.push_back("rail `" + run_.table().profile()[run_.table().rails()[rail].rail].name +
                              "`: its commands differ from the table and cannot be followed");
    }
    if (series_.empty()) {
      refuse(fit_.left_out.empty() ? "the log has no readings of a rail whose meter is described"
                                   : "no readings can be used; " + fit_.left_out.front());
      return;
    }
    std::vector<bool> limited;
    for (const RailFigures& rail : nominal_.simulation.rails) limited.push_back(rail.cc_time_s > 0);
    Parameters parameters(run_, series_, limited);
    if (parameters.values().empty()) {
      refuse("no value of the load has a tolerance");
      return;
    }
    estimate(parameters);
  }

 private:
  void refuse(const std::string& why) {
    const TextPtr& text = result_.answer.predictions.load->text;
    const Span place{text != nullptr ? text->id() : result_.answer.compiled.files().front().text->id(), 0, 0};
    findings_.report(finding::NothingToFit, place, why);
  }

  // How far courses reach that are kept whole. With other values of the load they may reach a little less far.
  [[nodiscard]] double kept_until() {
    constexpr double kRoom = 0.9;
    ExactRecorder recorder(run_.table().rails().size());
    static_cast<void>(simulate(run_.table(), run_.played().safe, *run_.played().load, incidents_, &recorder, job_));
    const std::optional<double> from = recorder.finish().left_out_from;
    const double end = from ? kRoom * *from : run_.duration();
    if (from) fit_.left_out.push_back("what comes after " + to_text(end, "s") + ": its prediction is too long to keep");
    return end;
  }

  // First with every value as likely anywhere within its tolerance: that tells which the log determines. Then these
  // alone, with nothing known of them beforehand.
  void estimate(Parameters& parameters) {
    Model model(run_, incidents_, series_, parameters, job_);
    const std::vector<double> start = start_of(parameters);
    model.judge_noise(start, true);
    Solution solution = solve_with(model, parameters, start);
    model.judge_noise(solution.at, false);
    solution = solve_with(model, parameters, solution.at);
    classify(model, parameters, solution);
    for (std::size_t i = 0; i < fit_.values.size(); ++i) {
      if (fit_.values[i].is_determined) parameters.forget(i);
    }
    solution = solve_with(model, parameters, solution.at);
    model.judge_noise(solution.at, false);
    solution = solve_with(model, parameters, solution.at);
    finish(model, parameters, solution);
  }

  [[nodiscard]] static std::vector<double> start_of(const Parameters& parameters) {
    std::vector<double> start;
    for (const Bounded& one : parameters.bounds()) start.push_back(one.start);
    return start;
  }

  [[nodiscard]] Solution solve_with(const Model& model, const Parameters& parameters, const std::vector<double>& from) {
    job_.check();
    Solution solution = solve(
        parameters.bounds(), from, [&](const std::vector<double>& at) { return model.residuals(at); },
        [&](const std::vector<double>& at) { return model.linearise(at); });
    fit_.rounds += solution.rounds;
    return solution;
  }

  [[nodiscard]] Spread spread_of(const Model& model, const Parameters& parameters, const Solution& solution) const {
    const std::vector<Bounded>& bounds = parameters.bounds();
    const Matrix& slopes = solution.linearised.slopes;
    Spread spread;
    spread.inverse = inverse_of(information(slopes, bounds, std::vector<bool>(bounds.size(), false)));
    Matrix noise(bounds.size(), bounds.size());
    for (std::size_t i = 0; i < series_.size(); ++i) {
      const auto [first, count] = model.rows_of(i);
      add_noise(slopes, first, std::span(solution.linearised.residuals).subspan(first, count), noise);
    }
    Matrix known(bounds.size(), bounds.size());
    for (std::size_t i = 0; i < bounds.size(); ++i) known(i, i) = bounds[i].weight;
    spread.noise = product(product(spread.inverse, noise), spread.inverse);
    spread.known = product(product(spread.inverse, known), spread.inverse);
    return spread;
  }

  void classify(const Model& model, const Parameters& parameters, const Solution& solution) {
    const Spread spread = spread_of(model, parameters, solution);
    const std::vector<LoadValue>& places = parameters.values();
    for (std::size_t i = 0; i < places.size(); ++i) {
      FittedValue value;
      value.name = places[i].name;
      value.unit = places[i].unit;
      value.design = places[i].design;
      value.estimate = value.design.nominal;
      const double error = std::sqrt(spread.noise(i, i) + spread.known(i, i));
      // What would go beyond its tolerance is told by the log, however well.
      const bool is_told = error < kMostError || solution.is_held[i];
      const bool is_checked = readings_that_show(solution.linearised.slopes, i) >= kFewestReadings;
      value.is_determined = is_told && is_checked;
      if (!is_told) {
        value.why = why_of(i, parameters, spread, error);
      } else if (!is_checked) {
        value.why = "it shows in one or two readings only: read more often, or with a longer window";
      }
      fit_.values.push_back(std::move(value));
    }
  }

  [[nodiscard]] std::string why_of(std::size_t value, const Parameters& parameters, const Spread& spread,
                                   double error) const {
    const Matrix& inverse = spread.inverse;
    std::optional<std::size_t> with;
    double most = kTogether;
    for (std::size_t i = 0; i < parameters.values().size(); ++i) {
      if (i == value) continue;
      const double together = std::abs(inverse(i, value)) / std::sqrt(inverse(i, i) * inverse(value, value));
      if (together <= most) continue;
      most = together;
      with = i;
    }
    if (with) return "it is not told apart from the " + parameters.values()[*with].name;
    const LoadValue& place = parameters.values()[value];
    const double half = (place.design.high - place.design.low) / 2;
    if (error > kAsTolerance) return "the log says no more than the tolerance does";
    return "the readings leave " + to_text(rounded_to(error * half, 2), place.unit) +
           " of standard error, its tolerance " + to_text(rounded_to(half / std::sqrt(3.0), 2), place.unit);
  }

  void finish(const Model& model, const Parameters& parameters, const Solution& solution) {
    const Spread spread = spread_of(model, parameters, solution);
    std::vector<double> written_at = start_of(parameters);
    for (std::size_t i = 0; i < fit_.values.size(); ++i) {
      FittedValue& value = fit_.values[i];
      if (!value.is_determined) continue;
      const double half = (value.design.high - value.design.low) / 2;
      value.estimate = parameters.value_at(i, solution.at[i]);
      value.noise_error = half * std::sqrt(std::max(0.0, spread.noise(i, i)));
      value.meter_error = half * std::sqrt(std::max(0.0, spread.known(i, i)));
      value.is_at_end = solution.is_held[i];
      written_at[i] = std::clamp((written(value).nominal - value.design.low) / half - 1, -1.0, 1.0);
    }
    fit_.dropped = model.dropped();
    tell_residuals(model, parameters, solution, written_at);
    report(parameters);
    result_.fit = std::move(fit_);
  }

  // Before and after with the log placed as the fit found it; meters and supplies as they are nominally.
  void tell_residuals(const Model& model, const Parameters& parameters, const Solution& solution,
                      std::vector<double> after) {
    std::vector<double> before = start_of(parameters);
    for (std::size_t i = 0; i < before.size(); ++i) {
      using Of = Parameters::Of;
      const Of of = parameters.all()[i].of;
      if (of == Of::Shift || of == Of::OwnShift || of == Of::Clock) before[i] = after[i] = solution.at[i];
    }
    const std::vector<std::vector<double>> first = model.predict(before, false);
    const std::vector<std::vector<double>> last = model.predict(after, false);
    for (std::size_t i = 0; i < series_.size(); ++i) {
      const Series& series = series_[i];
      Residual residual;
      residual.rail = run_.table().profile()[run_.table().rails()[series.rail].rail].name;
      residual.quantity = series.quantity;
      residual.log = run_.loggers()[series.log]->path;
      residual.noise = model.deviation(i);
      double largest = 0;
      for (std::size_t k = 0; k < series.readings.size(); ++k) {
        const double value = series.readings[k].value;
        largest = std::max(largest, std::abs(value));
        if (!model.is_counted(i, k)) continue;
        ++residual.readings;
        residual.before += (first[i][k] - value) * (first[i][k] - value);
        residual.after += (last[i][k] - value) * (last[i][k] - value);
      }
      residual.before = std::sqrt(residual.before / static_cast<double>(std::max<std::size_t>(residual.readings, 1)));
      residual.after = std::sqrt(residual.after / static_cast<double>(std::max<std::size_t>(residual.readings, 1)));
      residual.allowed = series.meter->error_at(largest);
      const auto [row, count] = model.rows_of(i);
      const auto noise = std::span(solution.linearised.residuals).subspan(row, count);
      residual.correlation = neighbour_correlation(noise);
      residual.widening = widening(correlations(noise));
      fit_.residuals.push_back(std::move(residual));
      if (series.each > 1) {
        fit_.left_out.push_back("rail `" + fit_.residuals.back().rail + "`: one of " + std::to_string(series.each) +
                                " readings was used");
      }
    }
    std::sort(fit_.left_out.begin(), fit_.left_out.end());
    fit_.left_out.erase(std::unique(fit_.left_out.begin(), fit_.left_out.end()), fit_.left_out.end());
  }

  void report(const Parameters& parameters) {
    const Load& load = *result_.answer.predictions.load;
    std::string logs;
    for (const as_run::LogRequest& log : logs_) logs += (logs.empty() ? "" : ", ") + log.path;
    fit_.file = load.text == nullptr
                    ? std::string()
                    : fitted_file(load.text, findings_.texts(), load, parameters.values(), fit_.values, logs);
    for (std::size_t i = 0; i < fit_.values.size(); ++i) {
      const FittedValue& value = fit_.values[i];
      const LoadValue& place = parameters.values()[i];
      const RailLoad& rail = load.rails[place.place];
      const Span span = place.element ? rail.elements[*place.element].span : rail.span;
      if (!value.is_determined) {
        findings_.report(finding::NotDetermined, span, value.name, value.why);
      } else if (value.is_at_end) {
        findings_.report(finding::AtTolerance, span, value.name, to_text(value.estimate, value.unit))
            .hint("it may lie beyond: see that the part is the right one, or give it a wider tolerance");
      }
    }
  }

  const std::vector<as_run::LogRequest>& logs_;
  const Job& job_;
  Fitted& result_;
  FindingSink& findings_;
  as_run::LocatedRun run_;
  Incidents incidents_;  // of the run as it was played
  as_run::Recording nominal_;
  std::vector<Series> series_;
  Fit fit_;
};

}  // namespace

std::ptrdiff_t Fit::determined() const {
  return std::count_if(values.begin(), values.end(), [](const FittedValue& value) { return value.is_determined; });
}

double FittedValue::standard_error() const {
  return std::hypot(noise_error, meter_error);
}

Fitted fit_load(Files& files, const std::string& profile, const CompileOptions& options,
                const std::vector<as_run::LogRequest>& logs, const Job& job) {
  Fitted result;
  result.answer.path = profile;
  FindingSink& findings = result.answer.findings;
  result.answer.compiled = compile(files, profile, options, findings, job);
  result.answer.predictions.load = read_load(result.answer.compiled, files, findings);
  if (result.answer.compiled.run() == nullptr || findings.has_errors()) return result;
  if (result.answer.predictions.load == nullptr) {
    findings.report(finding::NoLoad, Span{result.answer.compiled.files().front().text->id(), 0, 0})
        .hint("write `load \"FILE.load.yaml\"` or give one with --load FILE");
    return result;
  }
  Fitter(files, logs, job, result).fit();
  return result;
}

}  // namespace rampart::fit
