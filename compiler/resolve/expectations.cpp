#include <algorithm>
#include <span>
#include <tuple>

#include "compiler/resolve/work.h"
#include "lang/findings/resolve.h"
#include "lang/text/overloaded.h"

// Expectations and acceptances.
namespace rampart::resolving {
namespace {

// The name that comes near to an unknown one, or all that there are.
template <class Rows>
void hint_names(FindingSink::Addition addition, std::string_view unknown, const Rows& rows) {
  std::vector<std::string> names;
  std::string list;
  for (const auto& row : rows) {
    names.emplace_back(row.name);
    list += (list.empty() ? "`" : ", `") + std::string(row.name) + "`";
  }
  const std::string nearest = nearest_name(unknown, names);
  if (nearest.empty()) {
    addition.hint("choose from " + list);
  } else {
    addition.hint_name(nearest);
  }
}

class ExpectationResolver {
 public:
  explicit ExpectationResolver(Work& work) : work_(work), frame_(work.top()) {}

  void resolve(const ast::Expect& expect, const Span& span) {
    Expectation expectation;
    expectation.span = span;
    expectation.text = text_of(span);
    if (expect.under) {
      expectation.fault = std::string(expect.under->text);
      expectation.fault_span = expect.under->span;
    }
    const bool known = std::visit(Overloaded{[&](const ast::ExpectNoTrip&) {
                                               expectation.what = ExpectNoTrip{};
                                               return true;
                                             },
                                             [&](const auto& what) { return one(what, expectation); }},
                                  expect.what);
    if (known) work_.profile.expectations.push_back(std::move(expectation));
  }

 private:
  // As written, on one line and without the verb.
  [[nodiscard]] std::string text_of(const Span& span) const {
    const std::string_view source = work_.sources.text(span);
    std::string text;
    for (const char c : source.substr(std::min<std::size_t>(source.size(), std::string_view("expect").size()))) {
      const bool blank = c == ' ' || c == '\t' || c == '\n' || c == '\r';
      if (!blank) text += c;
      if (blank && !text.empty() && text.back() != ' ') text += ' ';
    }
    return text;
  }

  bool one(const ast::ExpectTrip& expect, Expectation& expectation) {
    const auto rail = work_.evaluator.rail(expect.rail, frame_);
    std::vector<TripCauseRow> causes(trip_cause_rows().begin(), trip_cause_rows().end());
    std::erase_if(causes, [](const TripCauseRow& row) { return !row.is_expected_by_name; });
    const auto cause = std::find_if(causes.begin(), causes.end(),
                                    [&](const TripCauseRow& row) { return row.name == expect.cause.text; });
    if (cause == causes.end()) {
      hint_names(work_.reporter.report(finding::UnknownCause, expect.cause.span, expect.cause.text), expect.cause.text,
                 causes);
      return false;
    }
    if (!rail) return false;
    expectation.what = ExpectTrip{*rail, cause->kind};
    return true;
  }

  // The row of a figure that is written as it should be.
  const FigureRow* figure_row(const ast::ExpectFigure& expect) {
    const std::span<const FigureRow> figures = figure_rows();
    const auto row = std::find_if(figures.begin(), figures.end(),
                                  [&](const FigureRow& figure) { return figure.name == expect.figure.text; });
    if (row == figures.end()) {
      hint_names(work_.reporter.report(finding::NoSuchFigure, expect.figure.span, expect.figure.text),
                 expect.figure.text, figures);
      return nullptr;
    }
    const bool well_formed = expect.of.has_value() == (row->of != FigureOf::Nothing) &&
                             expect.at_mark.has_value() == (row->of == FigureOf::RailAtMark);
    if (well_formed) return &*row;
    if (row->of == FigureOf::Nothing && expect.of) {
      work_.reporter.report(finding::FigureTakesNothing, join(expect.figure.span, expect.of->span), row->name)
          .hint("write `" + std::string(row->name) + "` alone");
      return nullptr;
    }
    work_.reporter.report(finding::FigureForm, expect.figure.span, row->form);
    return nullptr;
  }

  bool one(const ast::ExpectFigure& expect, Expectation& expectation) {
    const FigureRow* row = figure_row(expect);
    if (row == nullptr) {
      std::ignore = work_.evaluator.any_quantity(expect.bound, frame_);
      return false;
    }
    ExpectFigure result;
    result.figure = row->kind;
    const bool takes_total = row->of == FigureOf::RailOrTotal && expect.of && expect.of->text == "total";
    bool all_known = true;
    const bool has_no_total = row->of != FigureOf::RailOrTotal && expect.of && expect.of->text == "total" &&
                              !work_.scopes.main().names.contains("total");
    if (has_no_total) {
      work_.reporter.report(finding::FigureForm, expect.of->span, row->form)
          .hint("`total` goes with `energy` and `peak_power` alone");
      all_known = false;
    } else if (expect.of && !takes_total) {
      result.rail = work_.evaluator.rail(*expect.of, frame_);
      all_known = result.rail.has_value();
    }
    if (expect.at_mark) {
      result.mark = reached_mark(work_, *expect.at_mark);
      all_known = all_known && result.mark.has_value();
    }
    result.at_most = expect.comparison == ast::Operator::Less || expect.comparison == ast::Operator::LessEqual;
    result.strict = expect.comparison == ast::Operator::Less || expect.comparison == ast::Operator::Greater;
    const auto bound = work_.evaluator.quantity(expect.bound, frame_, row->dimension);
    if (!bound || !all_known) return false;
    result.bound = {*bound, row->dimension};
    expectation.what = result;
    return true;
  }

  Work& work_;
  Frame frame_;
};

void resolve_acceptance(Work& work, const ast::Accept& accept, const Span& span) {
  const auto registry = finding_registry();
  const auto known = std::find_if(registry.begin(), registry.end(),
                                  [&](const Wording& wording) { return wording.name == accept.finding.text; });
  const std::optional<RailId> rail = work.evaluator.rail(accept.rail, work.top());
  if (known == registry.end()) {
    std::vector<Wording> practice(registry.begin(), registry.end());
    std::erase_if(practice, [](const Wording& wording) { return wording.family != Family::Practice; });
    const auto is_same = [](const Wording& a, const Wording& b) { return a.name == b.name; };
    practice.erase(std::unique(practice.begin(), practice.end(), is_same), practice.end());
    hint_names(work.reporter.report(finding::UnknownFinding, accept.finding.span, accept.finding.text),
               accept.finding.text, practice);
    return;
  }
  if (known->family != Family::Practice) {
    work.reporter.report(finding::NotAcceptable, accept.finding.span, accept.finding.text)
        .hint("change the profile instead");
    return;
  }
  if (rail) work.profile.acceptances.push_back({std::string(accept.finding.text), rail, accept.reason.value, span});
}

}  // namespace

void resolve_expectations(Work& work) {
  ExpectationResolver resolver(work);
  for (const ast::Declaration& declaration : work.file.declarations) {
    if (const auto* expect = std::get_if<ast::Expect>(&declaration.what)) resolver.resolve(*expect, declaration.span);
  }
}

void resolve_acceptances(Work& work) {
  for (const ast::Declaration& declaration : work.file.declarations) {
    if (const auto* accept = std::get_if<ast::Accept>(&declaration.what)) {
      resolve_acceptance(work, *accept, declaration.span);
    }
  }
}

}  // namespace rampart::resolving
