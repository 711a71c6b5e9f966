#include "runtime/bench_run/output_state.h"

#include <cmath>
#include <exception>

#include "lang/job/parallel.h"
#include "lang/values/short_text.h"

namespace rampart::bench_run {
namespace {

using link::Instrument;
using link::LinkName;
using link::MessageKind;

constexpr std::array<std::string_view, 4> kKnownNames{"confirmed off", "commanded off, not confirmed", "on",
                                                      "unknown, may be on"};
// How often a connection is tried, and an output told.
constexpr int kTries = 2;
// Less than this is nothing, whatever digits a supply gives, in V.
constexpr double kNoVolts = 1e-4;
constexpr auto kBetweenTries = std::chrono::milliseconds(200);

std::vector<std::string> off_messages(const Instrument& instrument, std::span<const LinkName> channels) {
  std::vector<std::string> messages;
  for (const LinkName& channel : channels) {
    if (auto message = instrument.link().messages.filled(MessageKind::OutputOff, {channel.subject, {}}))
      messages.push_back(*std::move(message));
  }
  return messages;
}

// Brings questions and answers into step again, on a new connection if need be.
bool recover(Instrument& instrument) {
  return instrument.resynchronize() || (instrument.connect() && instrument.resynchronize());
}

// Asks what an output does; what failed goes into `state`.
void read_back(Instrument& instrument, const LinkName& channel, OutputState& state) {
  if (instrument.is_other()) {
    state.known = Known::Unknown;
    state.why = instrument.why();
    return;
  }
  const std::optional<bool> output = instrument.ask_truth(MessageKind::OutputState, channel.subject);
  if (!output) {
    state.why = instrument.why();
    if (!recover(instrument)) state.why = instrument.why();
    return;
  }
  state.known = *output ? Known::On : Known::ConfirmedOff;
  state.why.clear();
  const std::optional<double> volts = instrument.ask_number(MessageKind::MeasuredVoltage, channel.subject);
  if (volts && std::abs(*volts) < link::kInfinity) state.volts = volts;
  if (!volts) static_cast<void>(recover(instrument));
}

bool connect(Instrument& instrument) {
  for (int tries = 0; tries < kTries; ++tries) {
    if (tries > 0) std::this_thread::sleep_for(kBetweenTries);
    if (instrument.connect()) return true;
  }
  return false;
}

std::vector<OutputState> unknown_outputs(const link::SupplyLink& link, const std::string& why) {
  std::vector<OutputState> outputs;
  for (const LinkName& channel : link.channels) {
    outputs.push_back({link.name + "." + channel.name, Known::Unknown, std::nullopt, why});
  }
  return outputs;
}

SupplyState switch_supply_off(const link::SupplyLink& link) try {
  SupplyState state{link.name, place_text(link.place), "", {}};
  Instrument instrument(link);
  if (!connect(instrument)) {
    state.outputs = unknown_outputs(link, instrument.why());
    return state;
  }
  // One that does not say who it is gets the messages too: off is the safe side, and the link says that it is there.
  const std::optional<link::Identity> identity = instrument.identify();
  if (identity) state.identity = identity->text;
  if (identity && identity->serial_number != link.serial_number) {
    state.outputs = unknown_outputs(link, "the instrument there has serial number " + identity->serial_number +
                                              ", not " + link.serial_number + "; nothing was sent to it");
    return state;
  }
  state.outputs = switch_off(instrument, link.channels);
  return state;
} catch (const std::exception& failure) {
  // If memory runs out for one supply, the others are still switched off.
  return {link.name, place_text(link.place), "", unknown_outputs(link, failure.what())};
}

}  // namespace

std::string_view known_name(Known known) {
  return kKnownNames[static_cast<std::size_t>(known)];
}

std::string state_text(const OutputState& state) {
  std::string text(known_name(state.known));
  if (state.volts) text += ", " + short_text(std::abs(*state.volts) < kNoVolts ? 0 : *state.volts, "V");
  if (!state.why.empty()) text += ": " + state.why;
  return text;
}

std::vector<OutputState> switch_off(Instrument& instrument, std::span<const LinkName> channels) {
  const std::string before = instrument.link().name + ".";
  std::vector<OutputState> outputs;
  for (const LinkName& channel : channels) outputs.push_back({before + channel.name, Known::Unknown, std::nullopt, ""});
  for (int tries = 0; tries < kTries && !instrument.is_other(); ++tries) {
    std::vector<LinkName> left;
    for (std::size_t i = 0; i < channels.size(); ++i) {
      if (!outputs[i].is_off()) left.push_back(channels[i]);
    }
    if (left.empty()) break;
    const bool is_told = instrument.command(off_messages(instrument, left));
    const std::string why = is_told ? "" : instrument.why();
    if (!is_told) {
      // What arrives although nothing answers is more than nothing, before questions and answers are in step and after.
      static_cast<void>(instrument.send(off_messages(instrument, left)));
      if (!recover(instrument) && !instrument.is_other()) {
        static_cast<void>(instrument.send(off_messages(instrument, left)));
      }
    }
    for (std::size_t i = 0; i < channels.size(); ++i) {
      if (outputs[i].is_off()) continue;
      outputs[i].known = is_told ? Known::CommandedOff : Known::Unknown;
      outputs[i].why = why;
      read_back(instrument, channels[i], outputs[i]);
      if (outputs[i].known == Known::On) outputs[i].why = "the supply was commanded to switch it off";
    }
  }
  if (instrument.is_other()) {
    for (OutputState& output : outputs) output = {output.channel, Known::Unknown, std::nullopt, instrument.why()};
  }
  return outputs;
}

std::vector<OutputState> ask_outputs(Instrument& instrument, std::span<const LinkName> channels) {
  std::vector<OutputState> outputs;
  for (const LinkName& channel : channels) {
    outputs.push_back({instrument.link().name + "." + channel.name, Known::Unknown, std::nullopt, ""});
    read_back(instrument, channel, outputs.back());
  }
  return outputs;
}

std::vector<SupplyState> switch_all_off(const link::Link& link) {
  std::vector<SupplyState> states(link.supplies.size());
  // Side by side, so that none waits for another that is silent. With fewer threads than supplies it takes longer.
  Job job;
  job.threads = static_cast<unsigned>(states.size());
  run_parallel(states.size(), job, [&](std::size_t i) { states[i] = switch_supply_off(link.supplies[i]); });
  return states;
}

std::vector<const OutputState*> not_off(std::span<const SupplyState> supplies) {
  std::vector<const OutputState*> outputs;
  for (const SupplyState& supply : supplies) {
    for (const OutputState& output : supply.outputs) {
      if (!output.is_off()) outputs.push_back(&output);
    }
  }
  return outputs;
}

}  // namespace rampart::bench_run
