#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <vector>

namespace rampart::test {

// A supply that understands the program messages of SCPI-1999 and IEEE 488.2 and nothing else: what is not of these
// standards, or does not fit together, is a mistake. Written from the standards, not from the writer of lists.
class ScpiSupply {
 public:
  explicit ScpiSupply(std::size_t channels) : channels_(channels) {}

  // Takes program messages, each ended by a line feed. False at the first mistake; see mistake().
  [[nodiscard]] bool read(const std::string& text);
  [[nodiscard]] const std::string& mistake() const { return mistake_; }

  // A state of one channel as it was played.
  struct Played {
    double time = 0;
    double voltage = 0;
    double current = 0;
    bool output = false;
  };
  [[nodiscard]] const std::vector<Played>& played(std::size_t channel) const { return channels_[channel].played; }

  struct Channel {
    bool output = false;
    double voltage = 0;
    double current = 0;
    bool voltage_list = false;  // VOLTage:MODE LIST
    bool current_list = false;
    std::vector<double> voltages;
    std::vector<double> currents;
    std::vector<double> dwells;
    std::int64_t count = 1;
    std::map<std::string, double> protection;  // "VOLT:PROT" to its level
    std::map<std::string, bool> states;        // "VOLT:PROT" to whether it is on
    std::vector<Played> played;
    // The voltages set at the output, one after another, once the list is over: a list rules until the mode is fixed.
    std::vector<double> after_list;
  };
  [[nodiscard]] const Channel& channel(std::size_t index) const { return channels_[index]; }

 private:
  struct Header {
    std::vector<std::string> mnemonics;  // short forms
    std::size_t channel = 0;             // its suffix, from 1; 1 where there is none
  };
  bool fail(const std::string& why);
  bool message(const std::string& text);
  bool unit(const std::string& text);
  bool common(const std::string& name);
  bool question(const std::string& head);
  bool read_header(const std::string& text, Header& header);
  bool execute(const Header& header, const std::string& data);
  bool source(Channel& channel, const std::string& path, const std::string& data);
  bool list(Channel& channel, const std::string& path, const std::string& data);
  bool start();
  bool end_of_list();
  static void note_level(Channel& channel);

  std::vector<Channel> channels_;
  bool bus_trigger_ = false;
  bool initiated_ = false;
  bool running_ = false;
  std::string mistake_;
};

}  // namespace rampart::test
