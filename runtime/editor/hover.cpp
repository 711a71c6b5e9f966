#include "runtime/editor/hover.h"

#include <algorithm>

#include "lang/syntax/bodies.h"
#include "lang/values/short_text.h"
#include "runtime/answer/judged_margins.h"
#include "runtime/answer/margin_words.h"
#include "runtime/editor/name_words.h"

namespace rampart::editor {
namespace {

constexpr std::size_t kMaxRailsShown = 16;

std::string state_text(const RailState& state) {
  std::string voltage = state.known.voltage ? to_text(Volts{state.voltage}) : "as it stands";
  if (state.known.output && !state.on) return voltage + ", off";
  if (!state.known.limit) return voltage;
  return voltage + ", " + (state.limit.sign() == 0 ? "no limit" : to_text(Amps{state.limit}));
}

// The statement's rails first, so that what it changes is seen.
std::string rails_text(const Profile& profile, const StatementTime& time) {
  std::string changed;
  std::string others;
  std::size_t shown = 0;
  for (std::size_t i = 0; i < profile.rails.size() && i < time.before.size() && i < time.after.size(); ++i) {
    if (++shown > kMaxRailsShown) break;
    const std::string before = state_text(time.before[i]);
    const std::string after = state_text(time.after[i]);
    std::string& text = before == after ? others : changed;
    text += "  \n" + profile.rails[i].name + ": " + before + (before == after ? "" : " → " + after);
  }
  return changed + others;
}

std::string times_text(const StatementTime& time) {
  std::string text = time.in_safe ? "in `safe`, " : "";
  text += "begins at **" + instant_text(time.begin) + "**";
  if (time.end != time.begin) text += ", ends at **" + instant_text(time.end) + "**";
  if (time.times > 1 || time.is_least) {
    text += "  \n" + std::string(time.is_least ? "at least " : "") + std::to_string(time.times) +
            " times, the last at " + instant_text(time.last);
  }
  if (!time.pass.empty()) {
    text += "  \nthe first in pass ";
    for (std::size_t i = 0; i < time.pass.size(); ++i) text += (i > 0 ? " / " : "") + std::to_string(time.pass[i]);
    text += time.pass.size() > 1 ? " of its loops" : " of its loop";
  }
  return text;
}

// The tightest margin that is reached while the statement is played.
std::string margin_text(const View& view, const Analysis& whole, const Span& statement) {
  if (view.predicted == nullptr || view.predicted->of.get() != &whole) return {};
  const Predictions& predictions = view.predicted->predictions;
  if (!predictions.simulation) return {};
  const Profile& profile = *whole.compiled.profile();
  for (const Margin* margin : judged_margins(profile, *predictions.simulation, view.predicted->findings)) {
    const bool is_inside = margin->statement.file == statement.file && margin->statement.begin >= statement.begin &&
                           margin->statement.end <= statement.end;
    if (!is_inside) continue;
    return "\n\nnearest margin: " + std::string(row_of(margin->kind).words) + " of " + owner_of(profile, *margin) +
           ", " + left_words(margin->kind, margin->margin, margin->limit) + " at " + short_text(margin->time_s, "s");
  }
  return {};
}

std::optional<Hover> statement_hover(const View& view, std::uint32_t offset) {
  if (view.now == nullptr) return std::nullopt;
  const ast::Profile* tree = view.now->compiled.tree(view.text->id());
  const ast::Statement* statement = tree != nullptr ? ast::statement_at(*tree, offset) : nullptr;
  if (statement == nullptr) return std::nullopt;
  const Analysis* whole = view.now->compiled.profile() != nullptr ? view.now.get() : nullptr;
  std::optional<Span> span = statement->span;
  if (whole == nullptr || whole->times.empty()) {
    whole = view.whole.get();
    span = whole_span(view, statement->span);
  }
  const StatementTime* time = whole != nullptr && span ? whole->times.of(*span) : nullptr;
  if (time == nullptr) return std::nullopt;
  const Profile& profile = *whole->compiled.profile();
  return Hover{times_text(*time) + "\n" + rails_text(profile, *time) + margin_text(view, *whole, *span),
               statement->span};
}

}  // namespace

std::string instant_text(const RunInstant& instant) {
  const std::string time = to_text(instant.time);
  return instant.waits == 0 ? time : "wait " + std::to_string(instant.waits) + " + " + time;
}

std::optional<Hover> hover(const View& view, std::uint32_t offset) {
  if (const std::optional<NameAt> name = name_at(view, offset)) {
    return Hover{name_words(view, *name->index, name->symbol), name->span};
  }
  if (view.now != nullptr) {
    const CalculatedValue* value = view.now->names.calculated_at(view.text->id(), offset);
    if (value != nullptr) return Hover{"= " + value->text, value->span};
  }
  return statement_hover(view, offset);
}

}  // namespace rampart::editor
