#include <map>

#include "compiler/resolve/work.h"
#include "lang/findings/files.h"
#include "lang/findings/limits.h"
#include "lang/findings/resolve.h"
#include "lang/findings/syntax.h"
#include "lang/syntax/scanner.h"
#include "lang/text/overloaded.h"

// Rails and lines: what they stand for on the bench.
namespace rampart::resolving {
namespace {

class Outputs {
 public:
  explicit Outputs(Work& work) : work_(work) {}

  void declare(Definition& definition) {
    if (definition.kind == DefinitionKind::Rail) declare_rail(definition);
    if (definition.kind == DefinitionKind::Line) declare_line(definition);
  }

  // After every rail has its id.
  void complete_line(const Definition& definition) {
    Line& line = work_.profile.lines[static_cast<std::size_t>(definition.value.line)];
    std::vector<std::pair<RailId, Span>> seen;
    for (const ast::Name& name : definition.line->rails) {
      const auto rail = work_.evaluator.rail(name, work_.top());
      if (rail && is_new_rail(work_, name, *rail, seen)) line.rails.push_back(*rail);
    }
  }

 private:
  void declare_rail(Definition& definition) {
    const ast::Rail& declared = *definition.rail;
    Rail rail;
    rail.name = declared.name.text;
    rail.span = declared.name.span;
    rail.channel_span = declared.channel.span;
    rail.remote_sense = declared.remote_sense;
    rail.reversed = declared.reversed;
    const RailId id{static_cast<std::uint32_t>(work_.profile.rails.size())};
    if (!find_output(declared.channel, rail)) {
      work_.unplaced.push_back(id);
    } else if (declared.remote_sense) {
      check_sense(declared, rail);
    }
    definition.value = Value::of(id);
    work_.profile.rails.push_back(std::move(rail));
  }

  // False: the bench has no such output.
  bool find_output(const ast::Name& channel, Rail& rail) {
    const Bench& bench = work_.bench;
    if (const std::optional<Output> output = bench.find_output(channel.text)) {
      rail.output = *output;
      for (const ChannelId member : bench.channels_of(*output)) take(member, channel);
      return true;
    }
    if (work_.options.bench_known) {
      const bool dotted = channel.text.find('.') != std::string_view::npos;
      FindingSink::Addition addition =
          work_.reporter.report(finding::UnknownName, channel.span, dotted ? "channel" : "output", channel.text);
      const std::vector<std::string> names = bench.output_names();
      const std::string nearest = nearest_name(channel.text, names);
      if (!nearest.empty()) {
        addition.hint_name(nearest);
      } else if (!names.empty()) {
        addition.hint("the bench has " + listed(names));
      }
    }
    return false;
  }

  // That leaves the profile whole: all else can still be said of it.
  void check_sense(const ast::Rail& declared, const Rail& rail) {
    const Bench& bench = work_.bench;
    for (const ChannelId id : bench.channels_of(rail.output)) {
      const Channel& member = bench[id];
      if (member.remote_sense) continue;
      work_.reporter.report_beside(finding::SenseUnsupported, sense_place(declared), member.name)
          .note(finding::ChannelDescribedHere, member.span)
          .hint("leave out `sense remote`, and account for the drop of the leads");
      return;
    }
  }

  // From `sense` to `remote`, behind the channel.
  [[nodiscard]] Span sense_place(const ast::Rail& declared) const {
    const std::string_view text = work_.sources[declared.channel.span.file].text();
    const char* const end = text.data() + text.size();
    const auto offset = [&](const char* at) { return static_cast<std::uint32_t>(at - text.data()); };
    Span place = declared.channel.span;
    scan::Token token = scan::token_at(text.data() + place.end, end);
    for (; token.kind == scan::TokenKind::Word; token = scan::token_at(token.text.data() + token.text.size(), end)) {
      if (token.text == "sense") place.begin = offset(token.text.data());
      if (token.text == "remote") place.end = offset(token.text.data() + token.text.size());
    }
    return place;
  }

  static std::string listed(const std::vector<std::string>& names) {
    constexpr std::size_t kMostShown = 8;
    std::string text;
    for (std::size_t i = 0; i < names.size() && i < kMostShown; ++i) {
      text += (i > 0 ? ", `" : "`") + names[i] + "`";
    }
    return names.size() > kMostShown ? text + ", …" : text;
  }

  void take(ChannelId channel, const ast::Name& name) {
    const auto [place, is_new] = channels_.try_emplace(channel, name.span);
    if (is_new || place->second == name.span) return;
    work_.reporter.report(finding::OutputUsedTwice, name.span, work_.bench[channel].name)
        .note(finding::FirstUsedHere, place->second);
  }

  void declare_line(Definition& definition) {
    const ast::Line& declared = *definition.line;
    Line line;
    line.name = declared.name.text;
    line.span = declared.name.span;
    line.is_output = declared.direction == ast::Direction::Output;
    line.trigger = trigger_of(declared.trigger);
    find_terminal(declared.channel, line);
    definition.value = Value::of(LineId{static_cast<std::uint32_t>(work_.profile.lines.size())});
    work_.profile.lines.push_back(std::move(line));
  }

  static LineTrigger trigger_of(ast::LineTrigger trigger) {
    switch (trigger) {
      case ast::LineTrigger::Trip:
        return LineTrigger::Trip;
      case ast::LineTrigger::Cc:
        return LineTrigger::ConstantCurrent;
      case ast::LineTrigger::Off:
        return LineTrigger::SwitchOff;
      case ast::LineTrigger::None:
        break;
    }
    return LineTrigger::None;
  }

  void find_terminal(const ast::Name& terminal, Line& line) {
    const std::vector<Supply>& supplies = work_.bench.supplies;
    std::vector<std::string> names;
    for (std::size_t i = 0; i < supplies.size(); ++i) {
      for (const std::string& bare : supplies[i].lines) {
        names.push_back(supplies[i].name + "." + bare);
        if (names.back() != terminal.text) continue;
        line.supply = SupplyId{static_cast<std::uint32_t>(i)};
        line.terminal = bare;
        take_terminal(terminal, line.is_output);
        return;
      }
    }
    if (!work_.options.bench_known) return;
    FindingSink::Addition addition =
        work_.reporter.report(finding::UnknownName, terminal.span, "trigger line", terminal.text);
    const std::string nearest = nearest_name(terminal.text, names);
    if (!nearest.empty()) {
      addition.hint_name(nearest);
    } else {
      addition.hint(names.empty() ? "no supply of this bench has trigger lines" : "the bench has " + listed(names));
    }
  }

  void take_terminal(const ast::Name& terminal, bool is_output) {
    const auto [place, is_new] = terminals_.try_emplace(terminal.text, std::pair(terminal.span, is_output));
    if (is_new) return;
    const auto& [first, was_output] = place->second;
    const auto direction = [](bool output) { return output ? "output" : "input"; };
    if (was_output != is_output) {
      work_.reporter
          .report(finding::LineBothWays, terminal.span, terminal.text, direction(is_output), direction(was_output))
          .note(finding::FirstUsedHere, first)
          .hint("a trigger line is an input or an output, not both");
      return;
    }
    work_.reporter.report(finding::OutputUsedTwice, terminal.span, terminal.text).note(finding::FirstUsedHere, first);
  }

  Work& work_;
  std::map<ChannelId, Span> channels_;
  std::map<std::string_view, std::pair<Span, bool>> terminals_;  // where used first, and whether as an output
};

}  // namespace

void declare_outputs(Work& work) {
  Outputs outputs(work);
  for (Definition& definition : work.scopes.main().own) outputs.declare(definition);
  for (const Definition& definition : work.scopes.main().own) {
    if (definition.kind == DefinitionKind::Line) outputs.complete_line(definition);
  }
}

}  // namespace rampart::resolving
