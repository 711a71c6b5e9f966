#include <map>
#include <tuple>
#include <vector>

#include "compiler/resolve/work.h"
#include "lang/findings/resolve.h"
#include "lang/findings/syntax.h"
#include "lang/text/trimmed.h"

// Parameters and lets.
namespace rampart::resolving {
namespace {

// A value that the caller gave a parameter, and where: empty for one that is held by the program itself.
struct Setting {
  Quantity value;
  std::string_view unit;  // as it was written
  Span name;
  Span text;
};
using Settings = std::map<std::string, Setting, std::less<>>;

bool is_value(const Definition& definition) {
  return definition.kind == DefinitionKind::Parameter || definition.kind == DefinitionKind::Let;
}

std::vector<const ast::Expression*> expressions_of(const Definition& definition) {
  if (definition.kind == DefinitionKind::Let) return {&definition.let->value};
  std::vector<const ast::Expression*> expressions{&definition.parameter->value};
  if (definition.parameter->low) expressions.push_back(&*definition.parameter->low);
  if (definition.parameter->high) expressions.push_back(&*definition.parameter->high);
  return expressions;
}

Span place_of(const SourceSet& sources, FileId file, std::string_view part) {
  const auto begin = static_cast<std::uint32_t>(part.data() - sources[file].text().data());
  return {file, begin, begin + static_cast<std::uint32_t>(part.size())};
}

// Reports a setting of a name that is no parameter.
void report_no_parameter(Work& work, const Span& span, std::string_view name) {
  std::vector<std::string> names;
  for (const Definition& definition : work.scopes.main().own) {
    if (definition.kind == DefinitionKind::Parameter) names.emplace_back(definition.name.text);
  }
  FindingSink::Addition addition = work.reporter.report(finding::UnknownName, span, "parameter", name);
  const std::string nearest = nearest_name(name, names);
  if (!nearest.empty()) {
    addition.hint_name(nearest);
  } else {
    addition.hint(names.empty() ? "this profile has no parameters" : "its first parameter is `" + names.front() + "`");
  }
}

void read_setting(Work& work, FileId file, Settings& settings) {
  const std::string_view text = work.sources[file].text();
  const std::size_t equals = text.find('=');
  const std::string_view name = trimmed(text.substr(0, equals));
  if (equals == std::string_view::npos || name.empty()) {
    work.reporter.report(finding::BadSetting, place_of(work.sources, file, text), text)
        .hint("write `NAME=VALUE`, as in `margin=3%`");
    return;
  }
  const Span name_span = place_of(work.sources, file, name);
  const auto& names = work.scopes.main().names;
  const auto place = names.find(name);
  if (place == names.end() || place->second->kind != DefinitionKind::Parameter) {
    // What a file lacks that could not be read may well be this parameter.
    if (work.scopes.main().complete) report_no_parameter(work, name_span, name);
    work.reporter.fail();
    return;
  }
  const std::string_view value = trimmed(text.substr(equals + 1));
  const Span value_span = place_of(work.sources, file, value);
  const std::optional<Quantity> quantity = parse_quantity(value);
  if (!quantity) {
    work.reporter.report(finding::NoQuantity, value_span, value)
        .hint("write a number with its unit, as in `3.3V` or `3%`");
    return;
  }
  if (quantity->value.overflowed()) {
    work.reporter.report(finding::NumberTooLarge, value_span);
    return;
  }
  if (!settings.try_emplace(std::string(name), Setting{*quantity, unit_in(value), name_span, value_span}).second) {
    work.reporter.report(finding::SetTwice, name_span, name);
  }
}

class Calculation {
 public:
  Calculation(Work& work, const Settings& settings) : work_(work), settings_(settings) {}

  // Values are calculated after those they need. A stack of its own keeps long chains off the machine's.
  void run(Definition& first) {
    if (begin(first)) {
      while (!visits_.empty()) {
        Visit& visit = visits_.back();
        if (visit.next < visit.needs.size()) {
          Definition& need = *visit.needs[visit.next++];
          if (states_[&need] == State::Open) {
            report_cycle(need);
          } else {
            begin(need);
          }
          continue;
        }
        calculate(*visit.definition);
        states_[visit.definition] = State::Done;
        visits_.pop_back();
      }
    }
  }

 private:
  enum class State : std::uint8_t { New, Open, Done };
  struct Visit {
    Definition* definition;
    std::vector<Definition*> needs;
    std::size_t next = 0;
  };

  bool begin(Definition& definition) {
    State& state = states_[&definition];
    if (state != State::New) return false;
    state = State::Open;
    visits_.push_back({&definition, needs_of(definition), 0});
    return true;
  }

  std::vector<Definition*> needs_of(const Definition& definition) {
    std::vector<Definition*> needs;
    const auto& names = definition.home->names;
    for (const ast::Expression* expression : expressions_of(definition)) {
      for (const ast::ExpressionNode& node : expression->nodes) {
        if (node.op != ast::Operator::Name) continue;
        const auto place = names.find(node.name);
        if (place != names.end() && is_value(*place->second)) needs.push_back(place->second);
      }
    }
    return needs;
  }

  void report_cycle(const Definition& definition) {
    std::size_t first = visits_.size();
    while (first > 0 && visits_[first - 1].definition != &definition) --first;
    std::vector<std::string_view> names;
    for (std::size_t i = first - 1; i < visits_.size(); ++i) names.push_back(visits_[i].definition->name.text);
    work_.reporter.report(finding::ValueNeedsItself, definition.name.span, definition.name.text, cycle_text(names));
  }

  void calculate(Definition& definition) {
    const Frame frame{definition.home, {}};
    if (definition.kind == DefinitionKind::Let) {
      definition.value = work_.evaluator.any_value(definition.let->value, frame);
    } else {
      calculate_parameter(definition, frame);
    }
  }

  void calculate_parameter(Definition& definition, const Frame& frame) {
    const ast::Parameter& parameter = *definition.parameter;
    const Value written = work_.evaluator.any_value(parameter.value, frame);
    const Quantity initial = written.quantity();
    std::optional<Range<Quantity>> range;
    if (!written.is_known()) {
      if (parameter.low) std::ignore = work_.evaluator.any_quantity(*parameter.low, frame);
      if (parameter.high) std::ignore = work_.evaluator.any_quantity(*parameter.high, frame);
      return;
    }
    if (parameter.low && parameter.high) {
      const auto low = work_.evaluator.quantity(*parameter.low, frame, initial.dimension);
      const auto high = work_.evaluator.quantity(*parameter.high, frame, initial.dimension);
      if (!low || !high) return;
      range = Range<Quantity>{{*low, initial.dimension}, {*high, initial.dimension}};
      if (*high < *low) {
        work_.reporter.report(finding::EmptyRange, join(parameter.low->span(), parameter.high->span()), range->low,
                              range->high);
        return;
      }
    }
    ParameterValue result{std::string(definition.name.text), initial, false, range, definition.name.span};
    bool in_range = check_range(definition, initial, range, parameter.value.span());
    const bool is_main = definition.home == &work_.scopes.main();
    if (is_main) in_range = apply_setting(definition, result) && in_range;
    // What such a value leads to is no mistake of its own.
    const auto setting = is_main ? settings_.find(result.name) : settings_.end();
    const bool has_unit = setting != settings_.end() && setting->second.text != Span{};
    if (in_range) definition.value = Value::of(result.value, has_unit ? setting->second.unit : written.unit);
    if (is_main) work_.profile.parameters.push_back(std::move(result));
  }

  // False: the value that the caller gave cannot be taken.
  bool apply_setting(const Definition& definition, ParameterValue& result) {
    const auto place = settings_.find(result.name);
    if (place == settings_.end()) return true;
    const Setting& setting = place->second;
    if (setting.value.dimension != result.value.dimension) {
      work_.reporter
          .report(finding::WrongUnit, setting.text, work_.evaluator.quoted(setting.text),
                  with_article(setting.value.dimension), with_article(result.value.dimension))
          .note(finding::ParameterHere, definition.name.span);
      return false;
    }
    result.value = setting.value;
    result.set = true;
    return check_range(definition, setting.value, result.range, setting.text);
  }

  // False, with a finding, for a value outside of the range.
  bool check_range(const Definition& definition, const Quantity& value, const std::optional<Range<Quantity>>& range,
                   const Span& place) {
    if (!range || (range->low.value <= value.value && value.value <= range->high.value)) return true;
    const Quantity& nearest = value.value < range->low.value ? range->low : range->high;
    const auto shown = [&range](const Quantity& quantity) { return parameter_text(quantity, *range); };
    work_.reporter
        .report(finding::OutOfParameterRange, place, definition.name.text, shown(value), shown(range->low),
                shown(range->high))
        .note(finding::ParameterHere, definition.name.span)
        .hint("the nearest value in range is " + shown(nearest), shown(nearest));
    return false;
  }

  Work& work_;
  const Settings& settings_;
  std::map<const Definition*, State> states_;
  std::vector<Visit> visits_;
};

}  // namespace

void calculate_values(Work& work) {
  Settings settings;
  for (const FileId file : work.options.settings) read_setting(work, file, settings);
  for (const auto& [name, value] : work.options.held) settings[name] = {value, {}, {}, {}};
  Calculation calculation(work, settings);
  for (FileScope& scope : work.scopes.files()) {
    for (Definition& definition : scope.own) {
      if (is_value(definition)) calculation.run(definition);
    }
  }
}

}  // namespace rampart::resolving
