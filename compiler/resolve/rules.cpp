#include "compiler/profile/fold_condition.h"
#include "compiler/resolve/work.h"
#include "lang/findings/resolve.h"
#include "lang/text/overloaded.h"

// Rules.
namespace rampart::resolving {
namespace {

class RuleResolver {
 public:
  explicit RuleResolver(Work& work) : work_(work), frame_(work.top()) {}

  void resolve(const ast::Rule& rule, const Span& span) {
    std::visit(
        [&](const auto& what) {
          auto resolved = one(what);
          std::optional<std::string> name = work_.evaluator.text(rule.name, frame_);
          std::optional<Phase> phase;
          if (rule.from && rule.to && !resolve_phase(rule, phase)) return;
          if (!resolved || !name) return;
          Rule result{std::move(*name), span, std::move(*resolved), std::move(phase)};
          if (is_judgeable(result)) work_.profile.rules.push_back(std::move(result));
        },
        rule.what);
  }

 private:
  // Rules on slew rates are judged on setpoints, those on currents and powers in the simulation.
  bool is_judgeable(const Rule& rule) {
    bool slew = false;
    bool measured = false;
    const auto look_at = [&](const Condition& condition) {
      for_each_comparison(condition, [&](const Comparison& comparison) {
        for (const Term& term : comparison.form.terms) {
          slew = slew || term.signal == Signal::Slew;
          measured = measured || term.signal == Signal::Current || term.signal == Signal::Power;
        }
      });
    };
    std::visit(Overloaded{[&](const AlwaysRule& always) {
                            look_at(always.condition);
                            if (always.premise) look_at(*always.premise);
                          },
                          [&](const BeforeRule& before) {
                            look_at(before.first);
                            look_at(before.second);
                          },
                          [&](const WithinRule& within) {
                            look_at(within.response);
                            look_at(within.stimulus);
                          },
                          [](const MonotonicRule&) {}},
               rule.what);
    if (!slew || !measured) return true;
    work_.reporter.report(finding::SlewWithMeasured, rule.span, rule.name).hint("write two rules");
    return false;
  }

  bool resolve_phase(const ast::Rule& rule, std::optional<Phase>& phase) {
    std::optional<std::string> from = reached_mark(work_, *rule.from);
    std::optional<std::string> to = reached_mark(work_, *rule.to);
    if (!from || !to) return false;
    phase = Phase{std::move(*from), std::move(*to), rule.to->text.span};
    return true;
  }

  std::optional<AlwaysRule> one(const ast::AlwaysRule& rule) {
    auto condition = work_.evaluator.condition(rule.condition, frame_);
    std::optional<Condition> premise;
    if (rule.premise) {
      premise = work_.evaluator.condition(*rule.premise, frame_);
      if (!premise) return std::nullopt;
    }
    if (!condition || !has_one_margin(*condition)) return std::nullopt;
    return AlwaysRule{std::move(*condition), std::move(premise)};
  }

  std::optional<BeforeRule> one(const ast::BeforeRule& rule) {
    auto first = work_.evaluator.condition(rule.first, frame_);
    auto second = work_.evaluator.condition(rule.second, frame_);
    const auto by = rule.by ? work_.evaluator.nonnegative_time(*rule.by, frame_) : Nanoseconds{0};
    if (!first || !second || !by) return std::nullopt;
    return BeforeRule{std::move(*first), std::move(*second), *by};
  }

  std::optional<WithinRule> one(const ast::WithinRule& rule) {
    auto response = work_.evaluator.condition(rule.response, frame_);
    auto stimulus = work_.evaluator.condition(rule.stimulus, frame_);
    const auto time = work_.evaluator.nonnegative_time(rule.time, frame_);
    if (!response || !stimulus || !time) return std::nullopt;
    return WithinRule{std::move(*response), std::move(*stimulus), *time};
  }

  std::optional<MonotonicRule> one(const ast::MonotonicRule& rule) {
    const auto rail = work_.evaluator.rail(rule.rail, frame_);
    const auto from = work_.evaluator.quantity(rule.from, frame_, dimension::kVoltage);
    const auto to = work_.evaluator.quantity(rule.to, frame_, dimension::kVoltage);
    std::optional<Nanoseconds> within;
    if (rule.within) {
      within = work_.evaluator.nonnegative_time(*rule.within, frame_);
      if (!within) return std::nullopt;
    }
    if (!rail || !from || !to) return std::nullopt;
    if (rule.falling ? *from <= *to : *from >= *to) {
      work_.reporter
          .report(finding::LevelsReversed, join(rule.from.span(), rule.to.span()), rule.falling ? "falls" : "rises",
                  Quantity{*from, dimension::kVoltage}, Quantity{*to, dimension::kVoltage})
          .hint("write the level where it starts first");
      return std::nullopt;
    }
    return MonotonicRule{*rail, rule.falling, Volts{*from}, Volts{*to}, within};
  }

  // The margin of what `and` and `or` join is the smaller or the greater one, so both have to be of one unit.
  bool has_one_margin(const Condition& condition) {
    bool one_unit = true;
    static_cast<void>(fold_condition(
        condition, [](const ConditionNode& node, std::size_t) { return node.comparison.form.unit; },
        [](const Dimension& unit) { return unit; },
        [&](const ConditionNode& node, const Dimension& left, const Dimension& right) {
          if (one_unit && left != right) report_mixed(node, left, right);
          one_unit = one_unit && left == right;
          return left;
        }));
    return one_unit;
  }

  void report_mixed(const ConditionNode& node, const Dimension& left, const Dimension& right) {
    const bool is_and = node.op == Truth::And;
    work_.reporter
        .report(finding::MixedMargins, node.comparison.span, is_and ? "and" : "or", with_article(left),
                with_article(right))
        .hint(is_and ? "write two rules" : "compare what has the same unit");
  }

  Work& work_;
  Frame frame_;
};

}  // namespace

void resolve_rules(Work& work) {
  RuleResolver resolver(work);
  for (const ast::Declaration& declaration : work.file.declarations) {
    if (const auto* rule = std::get_if<ast::Rule>(&declaration.what)) resolver.resolve(*rule, declaration.span);
  }
}

}  // namespace rampart::resolving
