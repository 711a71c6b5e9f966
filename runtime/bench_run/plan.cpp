#include "runtime/bench_run/plan.h"

#include <algorithm>
#include <map>
#include <set>

#include "lang/findings/runs.h"
#include "runtime/bench_run/row_messages.h"
#include "runtime/bench_run/setup_steps.h"

namespace rampart::bench_run {
namespace {

using link::ByHand;
using link::MessageKind;

constexpr std::string_view kSafeSegment = "safe";

// "left.ch1" as supply and channel.
std::pair<std::string, std::string> split(const std::string& name) {
  const std::size_t point = std::min(name.find('.'), name.size());
  return {name.substr(0, point), point < name.size() ? name.substr(point + 1) : ""};
}

class Planner {
 public:
  Planner(const Bench& bench, const link::Link& link, Plan& plan, std::vector<Refusal>& refusals)
      : bench_(bench), link_(link), plan_(plan), refusals_(refusals) {}

  void place_all() {
    for (const link::SupplyLink& supply : link_.supplies) {
      const bool is_used =
          std::any_of(plan_.head.channels.begin(), plan_.head.channels.end(),
                      [&](const auto& channel) { return split(channel.channel).first == supply.name; });
      if (is_used) plan_.supplies.push_back({&supply, {}, std::nullopt, 0});
    }
    for (const TableChannel& channel : plan_.head.channels) place_channel(channel);
    for (const TableLine& line : plan_.head.lines) place_line(line);
    for (std::size_t i = 0; i < plan_.channels.size(); ++i) join_channel(i);
    for (const PlanChannel& channel : plan_.channels) check_setup(channel);
  }

 private:
  void refuse(const Wording& why, std::string what, std::string hint) {
    refusals_.push_back({why.name, std::move(what), std::move(hint)});
  }

  // "`left` and `right`".
  [[nodiscard]] std::string supplies_text() const {
    std::string text;
    for (std::size_t i = 0; i < plan_.supplies.size(); ++i) {
      if (i > 0) text += i + 1 == plan_.supplies.size() ? " and " : ", ";
      text += "`" + plan_.supplies[i].link->name + "`";
    }
    return text;
  }

  // Empty, after a refusal, if the link file does not lead there.
  std::optional<std::size_t> find_supply(const std::string& name) {
    const std::string supply = split(name).first;
    for (std::size_t i = 0; i < plan_.supplies.size(); ++i) {
      if (plan_.supplies[i].link->name == supply) return i;
    }
    if (missing_.insert({supply, true}).second) {
      refuse(finding::LinkIncomplete.wording, "the link file has no supply `" + supply + "`, which the table plays",
             "it has " + supplies_text() + ": correct the name, add it, or use the link file of this bench");
    }
    return std::nullopt;
  }

  void place_channel(const TableChannel& channel) {
    const std::optional<ChannelId> id = bench_.find_channel(channel.channel);
    const std::optional<std::size_t> supply = find_supply(channel.channel);
    if (!id || !supply) return;
    const std::string own_name = split(channel.channel).second;
    const auto subject = plan_.supplies[*supply].link->subject_of_channel(own_name);
    if (!subject) {
      refuse(finding::LinkIncomplete.wording, "the link file does not name channel `" + channel.channel + "`",
             "add `" + own_name + "` under `channels` of supply `" + plan_.supplies[*supply].link->name + "`");
      return;
    }
    const OutputLimits& limits = bench_[*id].limits;
    PlanChannel planned;
    planned.name = channel.channel;
    planned.rail = channel.rail;
    planned.supply = *supply;
    planned.subject = *subject;
    planned.setup = channel;
    planned.voltage_step = limits.voltage_resolution.si;
    planned.current_step = limits.current_resolution.si;
    planned.least_voltage = limits.voltage.value.low.si;
    planned.least_current = limits.current.value.low.si;
    for (const TableRail& rail : plan_.head.rails) {
      if (rail.rail == channel.rail) planned.is_reversed = rail.is_reversed;
    }
    const bool is_linear = channel.is_linear || bench_.supply_of(*id).timing.interpolation == Interpolation::Linear;
    if (is_linear) {
      refuse(finding::LinearByHost.wording,
             "`" + channel.channel +
                 "` moves along straight lines between rows (`interpolation: linear`): a host that " +
                 "sends rows turns each of them into one step",
             "play it from the supply's memory (`build --as list`), or build the profile for a bench entry of the "
             "supply " +
                 std::string("that holds each setpoint"));
    }
    plan_.supplies[*supply].channels.push_back(plan_.channels.size());
    plan_.channels.push_back(std::move(planned));
  }

  void place_line(const TableLine& line) {
    const std::optional<std::size_t> supply = find_supply(line.line);
    if (!supply) return;
    const link::SupplyLink& link = *plan_.supplies[*supply].link;
    const auto subject = link.subject_of_line(split(line.line).second);
    if (!subject) {
      refuse(finding::LinkIncomplete.wording, "the link file does not name line `" + line.line + "`",
             "add `" + split(line.line).second + "` under `lines` of supply `" + link.name + "`");
      return;
    }
    plan_.lines.push_back({line.line, *supply, *subject, line.role});
    const bool is_driven = line.role == "driven by rows";
    const bool is_awaited = line.role == "awaited";
    if (is_driven) need(link, MessageKind::LineHigh, line.line);
    if (is_driven) need(link, MessageKind::LineLow, line.line);
    if (is_awaited) need(link, MessageKind::LineState, line.line);
    if (is_driven || is_awaited) return;
    std::string text = "line `" + line.line + "`: " + line.role;
    for (const std::string& rail : line.rails) text += " " + rail;
    set_by_hand(link, ByHand::Lines, text);
  }

  void join_channel(std::size_t index) {
    PlanChannel& channel = plan_.channels[index];
    for (const std::string& other : channel.setup.coupled) {
      const auto found = plan_.find_channel(other);
      if (!found) continue;
      channel.switched_off_by_trip.push_back(*found);
      if (plan_.channels[*found].supply == channel.supply) continue;
      set_by_hand(
          *plan_.supplies[channel.supply].link, ByHand::Links,
          "the switch-off of `" + other + "` by a trip of `" + channel.name + "`" + way_of_link(channel.name, other));
    }
    if (!channel.setup.fuse) return;
    for (const std::string& other : channel.setup.fuse->switches_off) {
      const auto found = plan_.find_channel(other);
      if (!found) continue;
      channel.switched_off_by_fuse.push_back(*found);
      set_by_hand(
          *plan_.supplies[channel.supply].link, ByHand::Links,
          "the switch-off of `" + other + "` by the fuse of `" + channel.name + "`" + way_of_link(channel.name, other));
    }
  }

  // How the bench says that a trip gets to another output: "; link `cable`, wired, within 10 ms".
  [[nodiscard]] std::string way_of_link(const std::string& from, const std::string& to) const {
    const auto one = bench_.find_channel(from);
    const auto other = bench_.find_channel(to);
    const ProtectionLink* link = one && other ? bench_.find_link(bench_[*one].supply, bench_[*other].supply) : nullptr;
    if (link == nullptr) return {};
    return "; link `" + link->name + "`, " + (link->by == LinkedBy::Wired ? "wired" : "internal") + ", within " +
           to_text(link->delay);
  }

  void check_setup(const PlanChannel& channel) {
    const link::SupplyLink& link = *plan_.supplies[channel.supply].link;
    for (const SettingByHand& setting : settings_by_hand(channel, link)) {
      set_by_hand(link, setting.what, setting.text);
    }
    std::string mistake;
    static_cast<void>(setup_steps(channel, link, mistake));
    if (!mistake.empty())
      refuse(finding::NothingSets.wording, mistake, "change the format of the message in the link file");
  }

  void need(const link::SupplyLink& link, MessageKind kind, const std::string& what) {
    if (link.messages.has(kind)) return;
    refuse(finding::NothingSets.wording, "no message `" + std::string(row_of(kind).key) + "` for `" + what + "`",
           "give it under `messages` of supply `" + link.name + "`");
  }

  void set_by_hand(const link::SupplyLink& link, ByHand what, const std::string& text) {
    if (link.is_by_hand(what)) {
      plan_.by_hand.push_back({text});
      return;
    }
    refuse(finding::NothingSets.wording, "nothing sets up " + text,
           "give supply `" + link.name + "` the messages for it, or list `" + std::string(link::by_hand_name(what)) +
               "` under `by_hand`: then a person sets it, and the run asks");
  }

  const Bench& bench_;
  const link::Link& link_;
  Plan& plan_;
  std::vector<Refusal>& refusals_;
  std::map<std::string, bool> missing_;
};

// Goes through the items of a table, once its head is known.
class Survey {
 public:
  Survey(Plan& plan, std::vector<Refusal>& refusals) : plan_(plan), refusals_(refusals), last_(plan.supplies.size()) {
    for (const PlanChannel& channel : plan.channels) supply_of_[channel.name] = channel.supply;
    for (const PlanLine& line : plan.lines) supply_of_[line.name] = line.supply;
  }

  bool take(TableItem item) {
    if (const auto* begin = std::get_if<SegmentBegin>(&item)) begin_segment(*begin);
    if (const auto* instant = std::get_if<TableInstant>(&item)) take_instant(*instant);
    if (const auto* end = std::get_if<SegmentEnd>(&item)) end_segment(*end);
    if (in_safe_ && !is_too_long_ && !std::holds_alternative<SegmentBegin>(item)) plan_.safe.push_back(std::move(item));
    return true;
  }

 private:
  void begin_segment(const SegmentBegin& begin) {
    in_safe_ = begin.name == kSafeSegment;
    plan_.has_safe = plan_.has_safe || in_safe_;
    if (!in_safe_) ++plan_.segments;
    std::fill(last_.begin(), last_.end(), std::nullopt);
  }

  void take_instant(const TableInstant& instant) {
    plan_.rows += static_cast<std::int64_t>(instant.rows.size());
    std::vector<bool> is_told(last_.size());
    for (const TableRow& row : instant.rows) {
      const auto found = supply_of_.find(row.name);
      if (found == supply_of_.end()) {
        refuse_unknown(row.name);
        continue;
      }
      is_told[found->second] = true;
      check_messages(row);
    }
    for (std::size_t i = 0; i < last_.size(); ++i) {
      if (!is_told[i]) continue;
      PlanSupply& supply = plan_.supplies[i];
      ++supply.instants;
      const auto gap = last_[i] ? std::optional(instant.time - *last_[i]) : std::nullopt;
      if (gap && (!supply.shortest_gap || *gap < *supply.shortest_gap)) supply.shortest_gap = gap;
      last_[i] = instant.time;
    }
    safe_rows_ += in_safe_ ? instant.rows.size() : 0;
    if (safe_rows_ > kMostSafeRows && !is_too_long_) {
      is_too_long_ = true;
      refusals_.push_back({finding::RunTable.wording.name,
                           "`safe` has more than " + std::to_string(kMostSafeRows) + " rows",
                           "shorten the ramps of the safe sequence"});
    }
  }

  // Nobody has set up its protection, and it would not be played.
  void refuse_unknown(const std::string& name) {
    if (!unknown_.insert(name).second || unknown_.size() > 1) return;
    refusals_.push_back({finding::RunTable.wording.name,
                         "the table has rows for `" + name + "`, which its set-up does not name",
                         "build it with `rampart build --as json`"});
  }

  // Once a channel: a format of the link file that cannot write a value of the table.
  void check_messages(const TableRow& row) {
    if (!mistakes_.empty()) return;
    const std::optional<std::size_t> channel = plan_.find_channel(row.name);
    if (!channel) return;
    const PlanChannel& planned = plan_.channels[*channel];
    const link::SupplyLink& link = *plan_.supplies[planned.supply].link;
    RowWriter writer;
    if (writer.messages(planned, link, row)) return;
    mistakes_ = "a value of `" + row.name + "` cannot be written exactly in the format of its message";
    refusals_.push_back({finding::NothingSets.wording.name, mistakes_, "change the format in the link file"});
  }

  void end_segment(const SegmentEnd& end) {
    (in_safe_ ? plan_.safe_duration : plan_.duration) += end.duration;
    if (end.then && std::holds_alternative<OperatorWait>(end.then->what)) plan_.asks_operator = true;
  }

  Plan& plan_;
  std::vector<Refusal>& refusals_;
  std::map<std::string, std::size_t> supply_of_;
  std::vector<std::optional<Nanoseconds>> last_;  // instant of each supply
  bool in_safe_ = false;
  bool is_too_long_ = false;
  std::size_t safe_rows_ = 0;
  std::string mistakes_;
  std::set<std::string> unknown_;  // names that rows have and the set-up has not
};

}  // namespace

std::optional<std::size_t> Plan::find_channel(const std::string& name) const {
  for (std::size_t i = 0; i < channels.size(); ++i) {
    if (channels[i].name == name) return i;
  }
  return std::nullopt;
}

std::optional<std::size_t> Plan::find_line(const std::string& name) const {
  for (std::size_t i = 0; i < lines.size(); ++i) {
    if (lines[i].name == name) return i;
  }
  return std::nullopt;
}

std::vector<link::LinkName> Plan::link_names(std::size_t supply) const {
  std::vector<link::LinkName> names;
  for (const std::size_t channel : supplies[supply].channels) {
    names.push_back({split(channels[channel].name).second, channels[channel].subject});
  }
  return names;
}

Plan make_plan(std::FILE* table, const Bench& bench, const link::Link& link, std::vector<Refusal>& refusals) {
  Plan plan;
  // The head comes first: it may stand below the segments.
  std::string mistake = read_table(table, plan.head, [](const TableItem&) { return true; });
  if (!mistake.empty()) {
    refusals.push_back({finding::RunTable.wording.name, "the table cannot be played: " + mistake,
                        "build it with `rampart build --as json`"});
    return plan;
  }
  Planner(bench, link, plan, refusals).place_all();
  if (!refusals.empty()) return plan;
  Survey survey(plan, refusals);
  TableHead again;
  mistake = read_table(table, again, [&](TableItem item) { return survey.take(std::move(item)); });
  if (!mistake.empty())
    refusals.push_back({finding::RunTable.wording.name, "the table cannot be played: " + mistake, "build it again"});
  return plan;
}

}  // namespace rampart::bench_run
