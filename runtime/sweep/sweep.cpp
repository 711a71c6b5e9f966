#include "runtime/sweep/sweep.h"

#include <algorithm>
#include <iterator>
#include <map>
#include <memory>
#include <utility>

#include "runtime/sweep/best_value.h"
#include "runtime/sweep/parameter_scan.h"
#include "runtime/sweep/trial.h"
#include "runtime/sweep/value_grid.h"

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

// A parameter with the values that it is tried at.
struct Subject {
  ParameterValue parameter;
  Range<Quantity> range;
  std::optional<Quantity> step;
};

const ParameterValue& find_parameter(const Profile& profile, const std::string& name, const std::string& option) {
  std::vector<std::string> names;
  for (const ParameterValue& parameter : profile.parameters) {
    if (parameter.name == name) return parameter;
    names.push_back(parameter.name);
  }
  const std::string nearest = nearest_name(name, names);
  throw Refused{option, "the profile has no parameter `" + name + "`" +
                            (nearest.empty() ? "" : ": did you mean `" + nearest + "`?")};
}

Subject subject_of(const Profile& profile, const Vary& vary) {
  const ParameterValue& parameter = find_parameter(profile, vary.name, "--vary");
  if (parameter.value.dimension != vary.range.low.dimension) {
    throw Refused{"--vary", "`" + vary.name + "` is in " + unit_text(parameter.value.dimension) + ", not in " +
                                unit_text(vary.range.low.dimension)};
  }
  const auto& declared = parameter.range;
  if (declared && (vary.range.low.value < declared->low.value || declared->high.value < vary.range.high.value)) {
    throw Refused{"--vary", "the profile lets `" + vary.name + "` be from " + parameter_text(declared->low, *declared) +
                                " to " + parameter_text(declared->high, *declared)};
  }
  return {parameter, vary.range, vary.step};
}

std::vector<Subject> subjects_of(const Profile& profile, const Request& request) {
  std::vector<Subject> subjects;
  for (const Vary& vary : request.vary) {
    subjects.push_back(subject_of(profile, vary));
    const auto is_it = [&](const Subject& subject) { return subject.parameter.name == vary.name; };
    if (std::count_if(subjects.begin(), subjects.end(), is_it) > 1) {
      throw Refused{"--vary", "names `" + vary.name + "` twice"};
    }
  }
  const std::string wanted = request.find ? request.find->parameter : "";
  if (!wanted.empty()) {
    const ParameterValue& parameter = find_parameter(profile, wanted, "--find");
    std::erase_if(subjects, [&](const Subject& subject) { return subject.parameter.name != wanted; });
    if (!subjects.empty()) return subjects;
    if (!parameter.range) {
      throw Refused{"--find", "`" + wanted + "` has no range: give one with --vary " + wanted + "=LOW..HIGH"};
    }
    return {{parameter, *parameter.range, std::nullopt}};
  }
  if (!request.vary.empty()) return subjects;
  for (const ParameterValue& parameter : profile.parameters) {
    if (parameter.range && !parameter.set) subjects.push_back({parameter, *parameter.range, std::nullopt});
  }
  if (subjects.empty()) {
    throw Refused{"--vary", "is needed, since no parameter of the profile has a range"};
  }
  return subjects;
}

// A number of passes or the like.
bool counts(const Subject& subject) {
  return subject.range.low.dimension == dimension::kNone && subject.range.low.value.is_whole() &&
         subject.range.high.value.is_whole() && subject.parameter.value.value.is_whole();
}

// What the supplies can set, a whole number, or else a thousandth of the range.
Rational step_of(const Compiled& compiled, const Subject& subject) {
  const Quantity& low = subject.range.low;
  const Quantity& high = subject.range.high;
  if (counts(subject)) return 1;
  const auto held = [&](const Quantity& value) {
    FindingSink findings;
    const Held at{subject.parameter.name, value};
    return with_values(compiled, {&at, 1}, findings);
  };
  const Compiled at_low = held(low);
  const Compiled at_high = held(high);
  if (at_low.profile() != nullptr && at_high.profile() != nullptr && low.value < high.value) {
    const std::optional<Rational> step =
        protection_step(*at_low.profile(), *at_high.profile(), high.value - low.value, *compiled.bench());
    if (step && !setting_text({*step, low.dimension}, subject.range).empty()) return *step;
  }
  return settable_step(*compiled.profile(), *compiled.bench(), low.dimension)
      .value_or(thousandth({low.value, high.value}));
}

ParameterScan make_scan(const Trials& trials, const Compiled& compiled, const Subject& subject) {
  const Range<Rational> range{subject.range.low.value, subject.range.high.value};
  const Dimension& dimension = subject.range.low.dimension;
  const Rational step = subject.step ? subject.step->value : step_of(compiled, subject);
  const Rational values = (range.high - range.low) / step;
  if (values.overflowed() || Rational(kMostValues) < values) {
    throw Refused{"--vary", "`" + subject.parameter.name +
                                "` has more than 1000000000 values: give a range or a step " + "with --vary \"" +
                                subject.parameter.name + "=LOW..HIGH step S\""};
  }
  const ValueGrid grid(range, step, subject.step ? range.low : Rational(0), subject.parameter.value.value);
  return {trials, subject.parameter.name, grid, subject.range, {step, dimension}};
}

bool sets(const std::string& setting, const std::string& name) {
  const std::size_t equals = setting.find('=');
  const std::size_t end = setting.find_last_not_of(' ', equals - 1);
  const std::size_t begin = setting.find_first_not_of(' ');
  return equals != std::string::npos && setting.substr(begin, end - begin + 1) == name;
}

// The profile compiled again from its text, with the setting.
Answer answer_with(Files& files, const std::string& path, CompileOptions options, const std::string& name,
                   const std::string& setting, const Job& job) {
  std::erase_if(options.settings, [&](const std::string& other) { return sets(other, name); });
  options.settings.push_back(setting);
  Answer result;
  result.path = path;
  result.compiled = compile(files, path, options, result.findings, job.quietly());
  result.predictions =
      predict(result.compiled, read_load(result.compiled, files, result.findings), {}, result.findings, job.quietly());
  return result;
}

Best make_best(const ParameterScan& scan, std::size_t parameter, std::int64_t index, Goal goal) {
  Best best;
  best.parameter = parameter;
  best.trial = scan.trials().at(index);
  best.setting = scan.setting_at(index);
  if (goal == Goal::LeastDuration) return best;
  const auto at = scan.trials().find(index);
  if (goal == Goal::GreatestValue && std::next(at) != scan.trials().end()) best.beyond = std::next(at)->second;
  if (goal == Goal::LeastValue && at != scan.trials().begin()) best.beyond = std::prev(at)->second;
  // An end of the range that no setting can give may hold.
  if (best.beyond && best.beyond->holds()) best.beyond.reset();
  return best;
}

// The best of all parameters that are varied.
std::optional<Best> find_best(std::vector<ParameterScan>& scans, const Find& find, const Job& job) {
  std::optional<Best> best;
  for (std::size_t i = 0; i < scans.size(); ++i) {
    const std::optional<std::int64_t> index = find.goal == Goal::LeastDuration
                                                  ? shortest_run(scans[i], job)
                                                  : extreme_value(scans[i], find.goal == Goal::GreatestValue);
    if (!index) continue;
    if (best && scans[i].trials().at(*index).duration_s >= best->trial.duration_s) continue;
    best = make_best(scans[i], i, *index, find.goal);
  }
  return best;
}

}  // namespace

Sweep run(Files& files, const std::string& path, const CompileOptions& options, const Request& request,
          const Job& job) {
  ReadOnce texts(files);
  Sweep sweep;
  Answer& base = sweep.base;
  base.path = path;
  base.compiled = compile(texts, path, options, base.findings, job.quietly());
  const LoadPtr load = read_load(base.compiled, texts, base.findings);
  const bool lacks_load = base.compiled.load() && load == nullptr;
  base.predictions = predict(base.compiled, load, {}, base.findings, job.quietly());
  sweep.has_load = load != nullptr;
  const Profile* profile = base.compiled.profile();
  if (profile == nullptr || base.compiled.bench() == nullptr || lacks_load || base.is_unreadable()) return sweep;
  const std::vector<Subject> subjects = subjects_of(*profile, request);
  const Trials trials(base.compiled, load);
  std::vector<ParameterScan> scans;
  for (const Subject& subject : subjects) scans.push_back(make_scan(trials, base.compiled, subject));
  for (ParameterScan& scan : scans) {
    scan.scan(job);
    scan.refine(job);
  }
  if (request.find) sweep.best = find_best(scans, *request.find, job);
  for (std::size_t i = 0; i < scans.size(); ++i) {
    const Quantity& value = subjects[i].parameter.value;
    sweep.parameters.push_back(scans[i].result(trial_of(base.compiled, base.predictions, base.findings, value)));
  }
  if (sweep.best) {
    const std::string& name = subjects[sweep.best->parameter].parameter.name;
    sweep.best->answer = answer_with(texts, path, options, name, sweep.best->setting, job);
    sweep.best->confirmed = !sweep.best->answer.findings.has_errors();
  }
  return sweep;
}

}  // namespace rampart::sweep
