#include "runtime/bench_run/crew.h"

#include <algorithm>

namespace rampart::bench_run {

using link::MessageKind;

Crew::Crew(const Plan& plan, std::vector<ReadySupply>& supplies, Mailbox& mailbox) : plan_(plan) {
  for (std::size_t i = 0; i < plan.supplies.size(); ++i) {
    Member& member = members_.emplace_back();
    member.worker = std::make_unique<SupplyWorker>(plan, i, *supplies[i].instrument, supplies[i].round_trip, mailbox);
  }
}

std::vector<bool> Crew::told_by(const TableInstant& instant) const {
  std::vector<bool> told(members_.size());
  for (const TableRow& row : instant.rows) {
    if (const auto channel = plan_.find_channel(row.name)) told[plan_.channels[*channel].supply] = true;
    if (const auto line = plan_.find_line(row.name)) told[plan_.lines[*line].supply] = true;
  }
  return told;
}

void Crew::keep_free(const std::vector<bool>& supplies, Clock::time_point from) {
  for (std::size_t i = 0; i < supplies.size(); ++i) {
    if (supplies[i]) members_[i].worker->keep_free_from(from);
  }
}

void Crew::send(const TableInstant& instant, Clock::time_point due, const RailBoard& board) {
  std::vector<SupplyWorker::Rows> all(members_.size());
  const auto add = [&](std::size_t supply, const std::optional<std::vector<std::string>>& texts, const TableRow& news) {
    if (!texts || texts->empty()) return;
    all[supply].messages.insert(all[supply].messages.end(), texts->begin(), texts->end());
    all[supply].rows.push_back(news);
  };
  for (TableRow row : instant.rows) {
    if (const auto channel = plan_.find_channel(row.name)) {
      const PlanChannel& planned = plan_.channels[*channel];
      if (!board.trip_cause(*channel).empty() && row.output == true) row.output.reset();
      const TableRow news = writer_.news(row);
      add(planned.supply, writer_.messages(planned, *plan_.supplies[planned.supply].link, row), news);
    } else if (const auto line = plan_.find_line(row.name)) {
      const PlanLine& planned = plan_.lines[*line];
      add(planned.supply, RowWriter::messages(planned, *plan_.supplies[planned.supply].link, row), row);
    }
  }
  for (std::size_t i = 0; i < all.size(); ++i) {
    members_[i].worker->keep_free_from(Clock::time_point::max());
    if (all[i].messages.empty()) continue;
    all[i].due = due;
    all[i].planned = instant.time;
    send(i, std::move(all[i]));
  }
}

void Crew::send(std::size_t supply, SupplyWorker::Rows rows) {
  if (members_[supply].is_given_up) return;
  members_[supply].is_waiting = true;
  members_[supply].worker->send(std::move(rows));
}

void Crew::switch_off_channel(std::size_t channel, bool asks_first) {
  const PlanChannel& planned = plan_.channels[channel];
  const auto text = plan_.supplies[planned.supply].link->messages.filled(MessageKind::OutputOff, {planned.subject, {}});
  if (!text) return;
  SupplyWorker::Rows rows;
  rows.messages = {*text};
  rows.rows = {{planned.name, std::nullopt, std::nullopt, false}};
  rows.due = Clock::now();
  if (asks_first) rows.linked = channel;
  send(planned.supply, std::move(rows));
}

void Crew::ask_trip(std::size_t channel) {
  const std::size_t supply = plan_.channels[channel].supply;
  SupplyWorker::Rows rows;
  rows.suspect = channel;
  if (!members_[supply].is_given_up) members_[supply].worker->send(std::move(rows));
}

void Crew::give_up(std::size_t supply, RailBoard& board) {
  Member& member = members_[supply];
  if (member.is_given_up) return;
  member.is_given_up = true;
  member.outputs.reset();
  for (const std::size_t channel : plan_.supplies[supply].channels) board.note_off(channel);
  member.worker->switch_off_now();
}

void Crew::read_outputs() {
  for (const Member& member : members_) {
    if (!member.is_given_up) member.worker->read_outputs();
  }
}

void Crew::read_without_pause(bool is_wanted) {
  for (const Member& member : members_) member.worker->read_without_pause(is_wanted);
}

void Crew::watch_line(std::optional<std::size_t> line) {
  for (std::size_t i = 0; i < members_.size(); ++i) {
    const bool is_its_own = line && plan_.lines[*line].supply == i;
    members_[i].worker->watch_line(is_its_own ? line : std::nullopt);
  }
}

void Crew::note_outputs(std::size_t supply, std::vector<OutputState> states) {
  members_[supply].is_waiting = false;
  members_[supply].outputs = std::move(states);
}

bool Crew::owes_answer(const std::vector<bool>& supplies) const {
  for (std::size_t i = 0; i < supplies.size(); ++i) {
    if (supplies[i] && members_[i].is_waiting) return true;
  }
  return false;
}

bool Crew::knows_all_outputs() const {
  return std::all_of(members_.begin(), members_.end(), [](const Member& one) { return one.outputs.has_value(); });
}

std::string Crew::silence_text() const {
  std::string text;
  std::string silent;
  for (std::size_t i = 0; i < members_.size(); ++i) {
    const std::string& name = plan_.supplies[i].link->name;
    if (!members_[i].outputs) {
      silent += (silent.empty() ? "" : ", ") + name;
      continue;
    }
    const auto& outputs = *members_[i].outputs;
    const bool is_off =
        std::all_of(outputs.begin(), outputs.end(), [](const OutputState& one) { return one.is_off(); });
    text += "; " + name + (is_off ? ": all outputs off" : ": not all outputs are off");
  }
  return "no answer yet from " + silent + ", which is tried again" + text;
}

std::vector<std::size_t> Crew::disobedient(const RailBoard& board) const {
  std::vector<std::size_t> found;
  for (std::size_t i = 0; i < members_.size(); ++i) {
    if (members_[i].is_given_up || !members_[i].outputs) continue;
    for (const std::size_t channel : plan_.supplies[i].channels) {
      if (!board.is_on(channel) && !output(channel).is_off()) found.push_back(channel);
    }
  }
  return found;
}

const OutputState& Crew::output(std::size_t channel) const {
  const std::size_t supply = plan_.channels[channel].supply;
  const std::vector<std::size_t>& channels = plan_.supplies[supply].channels;
  const auto place = std::find(channels.begin(), channels.end(), channel) - channels.begin();
  return (*members_[supply].outputs)[static_cast<std::size_t>(place)];
}

}  // namespace rampart::bench_run
