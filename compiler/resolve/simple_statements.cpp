#include "compiler/resolve/expander.h"
#include "lang/findings/files.h"
#include "lang/findings/resolve.h"
#include "lang/findings/syntax.h"

namespace rampart::resolving {

bool is_new_rail(Work& work, const ast::Name& name, RailId rail, std::vector<std::pair<RailId, Span>>& seen) {
  for (const auto& [other, place] : seen) {
    if (other != rail) continue;
    work.reporter.report_value(finding::RailTwice, name.span, work.profile[rail].name)
        .note(finding::FirstUsedHere, place)
        .hint("name each rail once in a statement");
    return false;
  }
  seen.emplace_back(rail, name.span);
  return true;
}

void Expander::expand_one(const ast::Switch& action, Frame& frame, Program& out) {
  Switch result;
  result.on = action.on;
  std::vector<std::pair<RailId, Span>> seen;
  for (const ast::Name& name : action.rails) {
    const auto rail = work_.evaluator.rail(name, frame);
    if (rail && is_new_rail(work_, name, *rail, seen)) result.rails.push_back(*rail);
  }
  if (!result.rails.empty()) emit(std::move(result), out);
}

bool Expander::check_limit(const ast::Target& target, const Motion& motion) {
  const bool from_fits = !motion.from || motion.from->sign() > 0;
  if (from_fits && (motion.relative || motion.value.sign() > 0)) return true;
  const ast::Expression& wrong = from_fits ? target.value : *target.from;
  const Rational& value = from_fits ? motion.value : *motion.from;
  work_.reporter
      .report_value(finding::LimitNotPositive, wrong.span(), work_.profile[motion.rail].name,
                    Quantity{value, dimension::kCurrent})
      .hint("in a table 0 A means that no limit is set: to take a rail out of use, switch it off");
  return false;
}

std::vector<Motion> Expander::motions(const std::vector<ast::Target>& targets, Drive drive, const Frame& frame) {
  const Dimension wanted = drive == Drive::Voltage ? dimension::kVoltage : dimension::kCurrent;
  std::vector<Motion> result;
  std::vector<std::pair<RailId, Span>> seen;
  for (const ast::Target& target : targets) {
    Motion motion;
    motion.drive = drive;
    motion.relative = target.relative;
    motion.span = target.value.span();
    const auto rail = work_.evaluator.rail(target.rail, frame);
    if (target.from) motion.from = work_.evaluator.quantity(*target.from, frame, wanted);
    const auto value = work_.evaluator.quantity(target.value, frame, wanted);
    const bool known = rail && value && (!target.from || motion.from);
    if ((rail && !is_new_rail(work_, target.rail, *rail, seen)) || !known) continue;
    motion.rail = *rail;
    motion.value = *value;
    if (drive == Drive::Limit && !check_limit(target, motion)) continue;
    result.push_back(std::move(motion));
  }
  return result;
}

void Expander::expand_one(const ast::Step& step, Frame& frame, Program& out) {
  emit(Jump{motions(step.targets, Drive::Voltage, frame)}, out);
}

std::optional<Rational> Expander::rate(const ast::Expression& expression, const Frame& frame) {
  const auto found = work_.evaluator.quantity(expression, frame, dimension::kVoltageRate, {dimension::kTime, "over"});
  if (!found || found->sign() > 0) return found;
  work_.reporter.report_value(finding::RateNotPositive, expression.span(), Quantity{*found, dimension::kVoltageRate})
      .hint("write a rate above 0 V/s: the target gives the direction");
  return std::nullopt;
}

void Expander::expand_one(const ast::Ramp& ramp, Frame& frame, Program& out) {
  Ramp result;
  result.motions = motions(ramp.targets, Drive::Voltage, frame);
  if (ramp.is_rate) {
    if (const auto per_second = rate(ramp.pace, frame)) result.pace = *per_second;
  } else {
    const Instead as_rate{dimension::kVoltageRate, "at"};
    if (const auto time = work_.evaluator.nonnegative_time(ramp.pace, frame, as_rate)) result.pace = *time;
  }
  emit(std::move(result), out);
}

void Expander::expand_one(const ast::Limit& limit, Frame& frame, Program& out) {
  std::vector<Motion> found = motions(limit.targets, Drive::Limit, frame);
  if (!limit.over) {
    emit(Jump{std::move(found)}, out);
    return;
  }
  const auto time = work_.evaluator.nonnegative_time(*limit.over, frame);
  emit(Ramp{std::move(found), time.value_or(Nanoseconds{0})}, out);
}

void Expander::expand_one(const ast::Dwell& dwell, Frame& frame, Program& out) {
  if (const auto time = work_.evaluator.nonnegative_time(dwell.time, frame)) emit(Dwell{*time}, out);
}

void Expander::expand_one(const ast::Mark& mark, Frame& frame, Program& out) {
  std::optional<std::string> name = work_.evaluator.text(mark.name, frame);
  if (!name) {
    work_.has_unknown_marks = true;
    return;
  }
  (looking_over_ ? work_.unreached_marks : work_.marks).insert(*name);
  emit(Mark{std::move(*name)}, out);
}

void Expander::expand_one(const ast::Measurement& measurement, Frame& frame, Program& out) {
  std::optional<std::string> name = work_.evaluator.text(measurement.name, frame);
  const bool is_new = !name || looking_over_ || is_new_name(measurement.name, *name);
  const auto over = work_.evaluator.nonnegative_time(measurement.over, frame);
  if (over && over->count() == 0) {
    work_.reporter.report_value(finding::NotPositive, measurement.over.span(), Quantity{0, dimension::kTime});
    return;
  }
  if (name && over && is_new) emit(Measurement{std::move(*name), *over}, out);
}

// False, with a finding, for the name of another reading.
bool Expander::is_new_name(const ast::Label& label, const std::string& name) {
  const Span& place = label.text.span;
  const auto [known, is_new] = work_.readings.try_emplace(name, place);
  if (is_new) return true;
  work_.reporter.report_value(finding::ReadingTwice, place, name)
      .note(finding::OtherReadingHere, known->second)
      .hint(known->second == place ? "it is played several times: put the value that differs into its name, as in `{k}`"
                                   : "give one of them another name");
  return false;
}

std::optional<LineId> Expander::output_line(const ast::Name& name, const Frame& frame) {
  const auto id = work_.evaluator.line(name, frame);
  if (!id) return std::nullopt;
  const Line& line = work_.profile[*id];
  if (!line.is_output) {
    work_.reporter.report_value(finding::DrivesInput, name.span, line.name)
        .note(finding::DeclaredHere, line.span)
        .hint("declare it as `output`, or `await` it");
    return std::nullopt;
  }
  if (line.trigger != LineTrigger::None) {
    work_.reporter.report_value(finding::DrivesOwnLine, name.span, line.name)
        .note(finding::DeclaredHere, line.span)
        .hint("declare another line for what the run does");
    return std::nullopt;
  }
  return id;
}

void Expander::expand_one(const ast::SetLine& action, Frame& frame, Program& out) {
  if (const auto line = output_line(action.line, frame)) {
    emit(SetLine{*line, action.action == ast::LineAction::Raise}, out);
  }
}

void Expander::expand_one(const ast::Pulse& pulse, Frame& frame, Program& out) {
  const auto line = output_line(pulse.line, frame);
  const auto time = work_.evaluator.nonnegative_time(pulse.time, frame);
  if (!line || !time) return;
  if (time->count() == 0) {
    work_.reporter.report_value(finding::NotPositive, pulse.time.span(), Quantity{0, dimension::kTime});
    return;
  }
  emit(Pulse{*line, *time}, out);
}

std::optional<Await> Expander::awaited(const ast::AwaitLine& what, const Frame& frame) {
  const auto id = work_.evaluator.line(what.line, frame);
  if (!id) return std::nullopt;
  const Line& line = work_.profile[*id];
  if (line.is_output) {
    work_.reporter.report_value(finding::AwaitsOutput, what.line.span, line.name)
        .note(finding::DeclaredHere, line.span)
        .hint("declare it as `input`");
    return std::nullopt;
  }
  Await await;
  await.what = AwaitLine{*id, what.high};
  return await;
}

std::optional<Await> Expander::awaited(const ast::AwaitCondition& what, const Frame& frame) {
  auto condition = work_.evaluator.condition(what.condition, frame);
  if (!condition || looking_over_) return std::nullopt;
  Await await;
  await.what = AwaitCondition{work_.profile.conditions.size()};
  work_.profile.conditions.push_back(std::move(*condition));
  return await;
}

std::optional<Await> Expander::awaited(const ast::AwaitOperator& what, const Frame& frame) {
  std::optional<std::string> prompt = work_.evaluator.text(what.prompt, frame);
  if (!prompt) return std::nullopt;
  Await await;
  await.what = AwaitOperator{std::move(*prompt)};
  return await;
}

void Expander::expand_one(const ast::Await& await, Frame& frame, Program& out) {
  std::optional<Await> result = std::visit([&](const auto& what) { return awaited(what, frame); }, await.what);
  const auto within = work_.evaluator.nonnegative_time(await.within, frame);
  std::optional<Nanoseconds> assume;
  if (await.assume) {
    assume = work_.evaluator.nonnegative_time(*await.assume, frame);
  } else if (!std::holds_alternative<ast::AwaitCondition>(await.what)) {
    work_.reporter.report_value(finding::AssumeMissing, statement_)
        .hint("add how long it usually takes: `assume 10 s`");
  }
  if (assume && within && *assume > *within) {
    work_.reporter.report_value(finding::AssumeTooLong, await.assume->span(), *assume, *within)
        .note(finding::LongestWaitHere, await.within.span())
        .hint("assume " + to_text(*within) + " or less");
  }
  Await known = std::move(result).value_or(Await{});
  known.within = within.value_or(Nanoseconds{0});
  known.assume = assume;
  emit(std::move(known), out);
}

}  // namespace rampart::resolving
