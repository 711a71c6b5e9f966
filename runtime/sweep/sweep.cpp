#include "runtime/sweep/sweep.h"

#include <algorithm>
#include <iterator>
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "compiler/compile/parameter_ends.h"
#include "lang/job/parallel.h"
#include "runtime/answer/margin_kind.h"
#include "runtime/predict/headline.h"
#include "runtime/predict/origin.h"
#include "runtime/sweep/best_value.h"
#include "runtime/sweep/kept_limits.h"
#include "runtime/sweep/map_plan.h"
#include "runtime/sweep/parameter_scan.h"
#include "runtime/sweep/subject.h"
#include "runtime/sweep/trial.h"

namespace rampart::sweep {
namespace {

// Reads each text once, so that all trials are of the same ones, and standard input serves as well as a file.
class ReadOnce : public Files {
 public:
  explicit ReadOnce(Files& files) : files_(files) {}

  TextPtr read(const std::string& path, std::string& why) override {
    const std::string key = files_.canonical(path);
    if (const auto known = texts_.find(key); known != texts_.end()) return known->second;
    TextPtr text = files_.read(path, why);
    if (text != nullptr) texts_.emplace(key, text);
    return text;
  }
  FileStream open(const std::string& path, std::string& why) override { return files_.open(path, why); }
  [[nodiscard]] std::string canonical(const std::string& path) const override { return files_.canonical(path); }

 private:
  Files& files_;
  std::map<std::string, TextPtr> texts_;
};

bool sets(const std::string& setting, const std::string& name) {
  const std::size_t equals = setting.find('=');
  const std::size_t end = setting.find_last_not_of(' ', equals - 1);
  const std::size_t begin = setting.find_first_not_of(' ');
  return equals != std::string::npos && setting.substr(begin, end - begin + 1) == name;
}

// One sweep from its base to its answer.
class Work {
 public:
  Work(Files& files, const CompileOptions& options, const Request& request, const Job& job)
      : texts_(files), options_(options), request_(request), job_(job) {}

  Sweep run(const std::string& path) {
    Answer& base = sweep_.base;
    base.path = path;
    base.compiled = compile(texts_, path, options_, base.findings, job_.quietly());
    load_ = read_load(base.compiled, texts_, base.findings);
    const bool lacks_load = base.compiled.load() && load_ == nullptr;
    base.predictions = predict(base.compiled, load_, {}, base.findings, job_.quietly());
    sweep_.has_load = load_ != nullptr;
    const Profile* profile = base.compiled.profile();
    if (profile == nullptr || base.compiled.bench() == nullptr || lacks_load || base.is_unreadable())
      return std::move(sweep_);
    refuse_without_load();
    subjects_ = subjects_of(*profile, request_);
    trials_.emplace(base.compiled, load_, rail_of_energy(*profile, request_));
    if (!request_.sharing.join.empty()) known_ = join_parts(request_.sharing.join, asked());
    make_scans();
    if (request_.sharing.part) {
      do_part(*request_.sharing.part);
    } else {
      scan_gaps(0, all_gaps());
      finish();
    }
    return std::move(sweep_);
  }

 private:
  void refuse_without_load() const {
    if (sweep_.has_load || !request_.find) return;
    if (request_.find->goal == Goal::LeastEnergy) {
      throw Refused{"--find", "energy needs a load: write `load \"FILE.load.yaml\"` or give one with --load FILE"};
    }
    if (request_.demand.keep > 0) {
      throw Refused{"--keep", "needs a load: write `load \"FILE.load.yaml\"` or give one with --load FILE"};
    }
  }

  // What parts of this sweep have to agree in.
  [[nodiscard]] std::vector<std::string> asked() const {
    std::vector<std::string> lines = origin_lines(origin_of(sweep_.base.compiled, load_.get()));
    for (const Subject& subject : subjects_) {
      const std::string unit = unit_text(subject.range.low.dimension);
      lines.push_back("vary " + subject.parameter.name + " from " + to_text_in(subject.range.low, unit) + " to " +
                      to_text_in(subject.range.high, unit) +
                      (subject.step ? " step " + to_text_in(*subject.step, unit) : ""));
    }
    if (!request_.find) return lines;
    const std::string& name = request_.find->name;
    lines.push_back(std::string("find ") + (goal() == Goal::GreatestValue ? "greatest " : "least ") +
                    (goal() == Goal::LeastDuration ? "duration"
                     : goal() == Goal::LeastEnergy ? "energy(" + name + ")"
                                                   : name));
    lines.emplace_back(request_.demand.corners ? "in all corners" : "nominal");
    lines.push_back("keep " + to_text(100 * request_.demand.keep, "%"));
    return lines;
  }

  [[nodiscard]] bool is_map() const { return subjects_.size() == 2 && request_.vary.size() == 2 && !request_.find; }

  void make_scans() {
    const ScanContext context{*trials_, known_, sweep_.base.findings.texts()};
    if (is_map()) {
      map_ = make_map(sweep_.base.compiled);
      for (ScanSubject& row : map_->take_rows()) scans_.emplace_back(context, scans_.size(), std::move(row));
      return;
    }
    for (const Subject& subject : subjects_) {
      scans_.emplace_back(context, scans_.size(), scan_subject(sweep_.base.compiled, subject));
    }
  }

  // The gaps of all scans one after another: f(scan, first, end) for those from `begin` to before `end`.
  template <class F>
  void for_gaps(std::size_t begin, std::size_t end, F&& f) {
    std::size_t before = 0;
    for (ParameterScan& scan : scans_) {
      const std::size_t first = std::clamp(begin, before, before + scan.gaps()) - before;
      const std::size_t last = std::clamp(end, before, before + scan.gaps()) - before;
      f(scan, first, last);
      before += scan.gaps();
    }
  }

  void do_part(const Part& part) {
    const auto [begin, end] = share_of(part, all_gaps());
    sweep_.part = PartFile{part, asked(), {}};
    scan_gaps(begin, end);
    for_gaps(begin, end, [&](ParameterScan& scan, std::size_t first, std::size_t last) {
      if (request_.find && demand().corners) {
        BestSearch(scan, request_.find->goal, demand(), job_).judge(first, last);
      }
      sweep_.part->results.merge(scan.results());
    });
  }

  [[nodiscard]] std::size_t all_gaps() const {
    std::size_t gaps = 0;
    for (const ParameterScan& scan : scans_) gaps += scan.gaps();
    return gaps;
  }

  void scan_gaps(std::size_t begin, std::size_t end) {
    struct Point {
      ParameterScan* scan;
      std::int64_t index;
      Trial trial{};
    };
    std::vector<Point> points;
    for_gaps(begin, end, [&](ParameterScan& scan, std::size_t first, std::size_t last) {
      for (const std::int64_t index : scan.first_values(first, last)) points.push_back({&scan, index});
    });
    Job alone = job_.quietly();
    alone.threads = 1;
    run_parallel(points.size(), job_,
                 [&](std::size_t i) { points[i].trial = points[i].scan->tried(points[i].index, alone); });
    for (Point& point : points) point.scan->put(point.index, std::move(point.trial));
    if (scans_.size() == 1) return scans_.front().refine(job_.quietly());
    run_parallel(scans_.size(), job_.quietly(), [&](std::size_t i) { scans_[i].refine(alone); });
  }

  // Without a load there is nothing that corners or a share of a limit could be of.
  [[nodiscard]] Demand demand() const { return sweep_.has_load ? request_.demand : Demand{false, 0}; }

  void finish() {
    if (map_) {
      sweep_.map = map_->result(scans_, trials_->of(sweep_.base, subjects_[0].parameter.value),
                                subjects_[1].parameter.value, job_);
      return;
    }
    std::optional<std::size_t> of_best;
    if (request_.find) of_best = find_best();
    for (std::size_t i = 0; i < scans_.size(); ++i) {
      sweep_.parameters.push_back(scans_[i].result(trials_->of(sweep_.base, subjects_[i].parameter.value), job_));
    }
    if (of_best) confirm(*sweep_.best);
    if (request_.find && !of_best) find_nearest();
  }

  // The best of all parameters that are varied, each alone.
  std::optional<std::size_t> find_best() {
    std::optional<std::size_t> of;
    for (std::size_t i = 0; i < scans_.size(); ++i) {
      const std::optional<std::int64_t> index = BestSearch(scans_[i], goal(), demand(), job_).find();
      if (!index) continue;
      const Trial& trial = scans_[i].trials().at(*index);
      const bool is_better = !of || (goal() == Goal::LeastEnergy ? trial.energy_J < sweep_.best->trial.energy_J
                                                                 : trial.duration_s < sweep_.best->trial.duration_s);
      if (!is_better) continue;
      of = i;
      sweep_.best = make_best(i, *index);
    }
    return of;
  }

  Best make_best(std::size_t parameter, std::int64_t index) {
    ParameterScan& scan = scans_[parameter];
    Best best;
    best.parameter = parameter;
    best.trial = scan.trials().at(index);
    best.setting = scan.setting_at(index);
    const auto at = scan.trials().find(index);
    auto beyond = scan.trials().end();
    if (goal() == Goal::GreatestValue) beyond = std::next(at);
    if (goal() == Goal::LeastValue && at != scan.trials().begin()) beyond = std::prev(at);
    if (beyond == scan.trials().end()) return best;
    Trial fails = beyond->second.holds() ? scan.weighed(beyond->first, demand(), job_).trial
                                         : scan.explained(beyond->second, job_);
    // An end of the range that no setting can give may hold.
    if (!fails.holds()) best.beyond = std::move(fails);
    return best;
  }

  // Compiles the profile again from its text, with the setting.
  void confirm(Best& best) {
    const std::string& name = subjects_[best.parameter].parameter.name;
    CompileOptions options = options_;
    std::erase_if(options.settings, [&](const std::string& other) { return sets(other, name); });
    options.settings.push_back(best.setting);
    Answer& answer = best.answer;
    answer.path = sweep_.base.path;
    answer.compiled = compile(texts_, answer.path, options, answer.findings, job_.quietly());
    PredictOptions predict_options;
    predict_options.corners = demand().corners;
    const LoadPtr load = read_load(answer.compiled, texts_, answer.findings);
    answer.predictions = predict(answer.compiled, load, predict_options, answer.findings, job_.quietly());
    check_parameter_ends(answer.compiled, answer.findings, job_.quietly());
    const std::optional<TightMargin> least = least_left_of(answer);
    best.confirmed = !answer.findings.has_errors() && !(least && is_too_little(*least, demand().keep));
    if (answer.predictions.corners) best.corners = answer.predictions.corners->corners;
    if (!answer.predictions.simulation) return;
    for (const rampart::TightMargin& tightest : headline_of(answer, false).tightest) {
      best.tightest = TightMargin{tightest.what, tightest.margin, tightest.limit,
                                  std::string(row_of(tightest.kind).unit), tightest.corner};
      break;
    }
  }

  void find_nearest() {
    std::optional<Weighed> nearest;
    std::size_t of = 0;
    for (std::size_t i = 0; i < scans_.size(); ++i) {
      Weighed weighed = BestSearch(scans_[i], goal(), demand(), job_).nearest();
      if (!known_.empty() && weighed.trial.holds() && weighed.failing == 0)
        throw scans_[i].contradiction(weighed.trial.value);
      if (nearest && !comes_nearer(weighed, *nearest)) continue;
      nearest = std::move(weighed);
      of = i;
    }
    if (nearest) sweep_.nearest = Nearest{of, std::move(nearest->trial), nearest->failing, nearest->corners};
  }

  [[nodiscard]] Goal goal() const { return request_.find->goal; }

  [[nodiscard]] MapPlan make_map(const Compiled& compiled) const {
    return MapPlan(scan_subject(compiled, subjects_[0]), scan_subject(compiled, subjects_[1]),
                   subjects_[0].step.has_value(), subjects_[1].step.has_value());
  }

  ReadOnce texts_;
  const CompileOptions& options_;
  const Request& request_;
  Job job_;
  Sweep sweep_;
  LoadPtr load_;
  std::vector<Subject> subjects_;
  std::optional<Trials> trials_;
  Results known_;
  std::optional<MapPlan> map_;
  std::vector<ParameterScan> scans_;
};

}  // namespace

Sweep run(Files& files, const std::string& path, const CompileOptions& options, const Request& request,
          const Job& job) {
  return Work(files, options, request, job).run(path);
}

}  // namespace rampart::sweep
