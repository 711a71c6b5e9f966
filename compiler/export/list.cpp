#include "compiler/export/list.h"

#include <algorithm>
#include <string>

#include "compiler/export/decimal.h"
#include "compiler/export/segments.h"
#include "compiler/table/abilities.h"
#include "compiler/table/setup.h"

namespace rampart {
namespace {

// Puts commands one after another into messages of bounded length. Within a message a leading colon takes the next
// command back to the root.
class MessageWriter {
 public:
  explicit MessageWriter(TextSink& sink) : buffer_(sink) {}
  ~MessageWriter() { end_message(); }
  MessageWriter(const MessageWriter&) = delete;
  MessageWriter& operator=(const MessageWriter&) = delete;

  void command(const std::string& text) {
    constexpr std::string_view kSeparator = ";:";
    if (!message_.empty() && message_.size() + kSeparator.size() + text.size() + 1 > kMessageBytes) end_message();
    if (!message_.empty()) message_ += kSeparator;
    message_ += text;
  }
  // A command without a root, such as *TRG, in a message of its own.
  void common(std::string_view text) {
    end_message();
    message_ = text;
    end_message();
  }
  void end_message() {
    if (message_.empty()) return;
    buffer_.text() += message_ + "\n";
    message_.clear();
    static_cast<void>(buffer_.keep_going());
  }

 private:
  TextBuffer buffer_;
  std::string message_;
};

class ListWriter {
 public:
  ListWriter(const Table& run, TextSink& sink)
      : run_(run), scales_(channel_scales(run.bench())), setups_(channel_setups(run)), messages_(sink) {}

  void write(const std::vector<const ChannelList*>& lists) {
    for (const ChannelList* list : lists) messages_.command(output(*list) + "OFF");
    messages_.end_message();
    for (const ChannelList* list : lists) set_up(*list);
    for (const ChannelList* list : lists) define(*list);
    messages_.command("TRIGger:SOURce BUS");
    for (const ChannelList* list : lists) {
      if (list->switched_on) messages_.command(output(*list) + "ON");
    }
    messages_.command("INITiate:IMMediate");
    messages_.common("*TRG");
    // The list is an overlapped command: what follows waits for its end.
    messages_.common("*WAI");
    for (const ChannelList* list : lists) finish(*list);
  }

 private:
  [[nodiscard]] std::string volts(const ChannelList& list, std::int64_t counts) const {
    const DecimalScale& scale = scales_[static_cast<std::size_t>(list.channel)].voltage;
    std::string text;
    append_decimal(counts * scale.factor, scale.decimals, text);
    return text;
  }
  [[nodiscard]] std::string amps(const ChannelList& list, std::int64_t counts) const {
    const DecimalScale& scale = scales_[static_cast<std::size_t>(list.channel)].current;
    std::string text;
    append_decimal(counts * scale.factor, scale.decimals, text);
    return text;
  }
  static std::string seconds(Nanoseconds time) {
    std::string text;
    append_short_decimal(time.count(), kTimeDecimals, text);
    return text;
  }
  // A value of the profile. Lists are only planned where each of them is a decimal number.
  static std::string level(const Rational& value) { return exact_decimal(value).value(); }

  [[nodiscard]] std::string number(const ChannelList& list) const {
    const std::vector<ChannelId>& channels = run_.bench().supply_of(list.channel).channels;
    return std::to_string(std::find(channels.begin(), channels.end(), list.channel) - channels.begin() + 1);
  }
  [[nodiscard]] std::string source(const ChannelList& list) const { return "SOURce" + number(list) + ":"; }
  [[nodiscard]] std::string output(const ChannelList& list) const { return "OUTPut" + number(list) + ":STATe "; }

  void set_up(const ChannelList& list) {
    const auto setup = std::find_if(setups_.begin(), setups_.end(),
                                    [&](const ChannelSetup& one) { return one.channel == list.channel; });
    const std::string root = source(list);
    if (setup->overvoltage) {
      messages_.command(root + "VOLTage:PROTection:LEVel " + level(setup->overvoltage->si));
      messages_.command(root + "VOLTage:PROTection:STATe ON");
    }
    if (setup->fuse) {
      if (setup->fuse->current) {
        messages_.command(root + "CURRent:PROTection:LEVel " + level(setup->fuse->current->si));
      }
      messages_.command(root + "CURRent:PROTection:STATe ON");
    }
    if (setup->overpower) {
      messages_.command(root + "POWer:PROTection:LEVel " + level(setup->overpower->si));
      messages_.command(root + "POWer:PROTection:STATe ON");
    }
    if (const auto& ceiling = run_.profile()[setup->rail].protection.ceiling) {
      messages_.command(root + "VOLTage:LIMit:AMPLitude " + level(own_ceiling(list, setup->rail, ceiling->value)));
      messages_.command(root + "VOLTage:LIMit:STATe ON");
    }
    const ListPoint first = list.points.empty() ? ListPoint{list.last.voltage, list.last.current, {}} : list.points[0];
    set_levels(list, first.voltage, first.current);
    messages_.end_message();
  }

  // In series a member has its share of the rail's ceiling. Its setpoints may lie a count above their share, and the
  // channel has to take them.
  [[nodiscard]] Rational own_ceiling(const ChannelList& list, RailId rail, const Volts& ceiling) const {
    const Channel& channel = run_.bench()[list.channel];
    const Abilities abilities = abilities_of(run_, rail);
    std::int64_t highest = list.last.voltage;
    for (const ListPoint& point : list.points) highest = std::max(highest, point.voltage);
    return std::max(abs(ceiling.si) * abilities.share_of_voltage(channel),
                    channel.limits.voltage_resolution.si * Rational(highest));
  }

  void set_levels(const ChannelList& list, std::int64_t voltage, std::int64_t current) {
    messages_.command(source(list) + "CURRent:LEVel " + amps(list, current));
    messages_.command(source(list) + "VOLTage:LEVel " + volts(list, voltage));
  }

  // A list of one value stands for one as long as the others.
  template <class Text>
  void define(const ChannelList& list, std::string_view what, Text&& text_of) {
    std::string command = source(list) + "LIST:" + std::string(what) + " ";
    const std::string first = text_of(list.points.front());
    const bool all_equal = std::all_of(list.points.begin(), list.points.end(),
                                       [&](const ListPoint& point) { return text_of(point) == first; });
    command += first;
    for (std::size_t i = 1; i < list.points.size() && !all_equal; ++i) command += "," + text_of(list.points[i]);
    messages_.end_message();
    messages_.command(command);
    messages_.end_message();
  }

  void define(const ChannelList& list) {
    if (list.points.empty()) return;
    define(list, "VOLTage", [&](const ListPoint& point) { return volts(list, point.voltage); });
    define(list, "CURRent", [&](const ListPoint& point) { return amps(list, point.current); });
    define(list, "DWELl", [](const ListPoint& point) { return seconds(point.dwell); });
    messages_.command(source(list) + "LIST:COUNt " + std::to_string(list.passes));
    messages_.command(source(list) + "VOLTage:MODE LIST");
    messages_.command(source(list) + "CURRent:MODE LIST");
    messages_.end_message();
  }

  void finish(const ChannelList& list) {
    const bool goes_off = list.switched_on && !list.last.output;
    if (goes_off) messages_.command(output(list) + "OFF");
    // The levels rule only once the mode is fixed: until then they are those from before the list.
    set_levels(list, list.last.voltage, list.last.current);
    messages_.command(source(list) + "CURRent:MODE FIXed");
    messages_.command(source(list) + "VOLTage:MODE FIXed");
    messages_.end_message();
  }

  const Table& run_;
  std::vector<ChannelScale> scales_;
  std::vector<ChannelSetup> setups_;
  MessageWriter messages_;
};

}  // namespace

void write_list(const Table& run, const std::vector<ChannelList>& lists, SupplyId supply, TextSink& sink) {
  std::vector<const ChannelList*> chosen;
  for (const ChannelList& list : lists) {
    if (run.bench()[list.channel].supply == supply) chosen.push_back(&list);
  }
  ListWriter(run, sink).write(chosen);
}

}  // namespace rampart
