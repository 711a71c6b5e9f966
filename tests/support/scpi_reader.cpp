#include "tests/support/scpi_reader.h"

#include <algorithm>
#include <cctype>
#include <cstdlib>
#include <regex>

namespace rampart::test {
namespace {

// The mnemonics that are used, in the notation of the standard: capitals are the short form. SCPI-1999 Volume 1, 6.2:
// short or long form, in either case, nothing between. Which subsystem has which is from memory.
const char* const kMnemonics[] = {"OUTPut",     "STATe",   "SOURce",   "VOLTage",   "CURRent",   "POWer",
                                  "PROTection", "LEVel",   "LIMit",    "LIST",      "DWELl",     "COUNt",
                                  "MODE",       "TRIGger", "INITiate", "IMMediate", "AMPLitude", "MEASure",
                                  "DC",         "SYSTem",  "ERRor",    "NEXT",      "TRIPped"};

// What can be asked, besides the common queries.
const char* const kQuestions[] = {
    "OUTP:STAT",           "SOUR:VOLT:LEV",       "SOUR:CURR:LEV",       "SOUR:VOLT:PROT:LEV", "SOUR:CURR:PROT:LEV",
    "SOUR:POW:PROT:LEV",   "SOUR:VOLT:PROT:STAT", "SOUR:CURR:PROT:STAT", "SOUR:POW:PROT:STAT", "SOUR:VOLT:PROT:TRIP",
    "SOUR:CURR:PROT:TRIP", "SOUR:POW:PROT:TRIP",  "MEAS:VOLT:DC",        "MEAS:CURR:DC",       "SYST:ERR:NEXT"};

std::string upper(std::string text) {
  for (char& c : text) c = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  return text;
}

std::string short_form(const std::string& mnemonic) {
  std::string text;
  for (const char c : mnemonic) {
    if (std::isupper(static_cast<unsigned char>(c)) != 0) text += c;
  }
  return text;
}

// Cuts at a separator; nothing of what is used here stands in quotes.
std::vector<std::string> cut(const std::string& text, char separator) {
  std::vector<std::string> parts(1);
  for (const char c : text) {
    if (c == separator) {
      parts.emplace_back();
    } else {
      parts.back() += c;
    }
  }
  return parts;
}

// IEEE 488.2, 7.7.2: decimal numeric program data (NRf): NR1, NR2 or NR3.
bool read_number(const std::string& text, double& value) {
  static const std::regex kNrf("[+-]?([0-9]+(\\.[0-9]*)?|\\.[0-9]+)( ?[eE] ?[+-]?[0-9]+)?");
  if (!std::regex_match(text, kNrf)) return false;
  value = std::strtod(text.c_str(), nullptr);
  return true;
}

bool read_list(const std::string& text, std::vector<double>& values) {
  values.clear();
  for (const std::string& part : cut(text, ',')) {
    values.emplace_back();
    if (!read_number(part, values.back())) return false;
  }
  return true;
}

// IEEE 488.2 numbers or the words of Volume 1, 7.3.
bool read_boolean(const std::string& text, bool& value) {
  const std::string word = upper(text);
  if (word != "ON" && word != "OFF" && word != "1" && word != "0") return false;
  value = word == "ON" || word == "1";
  return true;
}

double at(const std::vector<double>& list, std::size_t index) {
  return list.size() == 1 ? list.front() : list[index];
}

}  // namespace

bool ScpiSupply::fail(const std::string& why) {
  mistake_ = why;
  return false;
}

bool ScpiSupply::read(const std::string& text) {
  if (text.empty() || text.back() != '\n') return fail("the last message has no end");
  std::vector<std::string> messages = cut(text, '\n');
  messages.pop_back();
  for (const std::string& one : messages) {
    if (!message(one)) return false;
  }
  return true;
}

// IEEE 488.2, 7.3: units separated by semicolons; after the first, a header without a colon goes on where the last
// one was, which is not used here.
bool ScpiSupply::message(const std::string& text) {
  const std::vector<std::string> units = cut(text, ';');
  for (std::size_t i = 0; i < units.size(); ++i) {
    std::string one = units[i];
    if (one.empty()) return fail("an empty unit in: " + text);
    if (one[0] == ':') {
      one.erase(0, 1);
    } else if (i > 0 && one[0] != '*') {
      return fail("a relative header in: " + text);
    }
    if (!unit(one)) return false;
  }
  return true;
}

bool ScpiSupply::unit(const std::string& text) {
  const std::size_t blank = text.find(' ');
  std::string head = text.substr(0, blank);
  const std::string data = blank == std::string::npos ? "" : text.substr(blank + 1);
  if (head.back() == '?') {
    head.pop_back();
    return data.empty() ? question(head) : fail("-108 parameter not allowed: " + data);
  }
  if (head[0] == '*') return data.empty() ? common(upper(head)) : fail("data after " + head);
  Header header;
  return read_header(head, header) && execute(header, data);
}

// IEEE 488.2, 7.3.3 and 10: a query is a header with a question mark.
bool ScpiSupply::question(const std::string& head) {
  if (head.rfind('*', 0) == 0) {
    const std::string name = upper(head);
    return name == "*IDN" || name == "*OPC" || name == "*ESR" || fail("-113 undefined header " + head + "?");
  }
  Header header;
  if (!read_header(head, header)) return false;
  std::string path;
  for (const std::string& mnemonic : header.mnemonics) path += (path.empty() ? "" : ":") + mnemonic;
  const bool is_known = std::find(std::begin(kQuestions), std::end(kQuestions), path) != std::end(kQuestions);
  return is_known || fail("-113 undefined header " + head + "?");
}

bool ScpiSupply::common(const std::string& name) {
  if (name == "*TRG") return initiated_ && bus_trigger_ ? start() : fail("-211 trigger ignored");
  if (name == "*WAI") return end_of_list();
  return fail("-113 undefined header " + name);
}

bool ScpiSupply::read_header(const std::string& text, Header& header) {
  for (const std::string& part : cut(text, ':')) {
    const std::size_t digits = part.find_last_not_of("0123456789") + 1;
    const std::string word = upper(part.substr(0, digits));
    const auto known = std::find_if(std::begin(kMnemonics), std::end(kMnemonics), [&](const char* mnemonic) {
      return word == upper(mnemonic) || word == short_form(mnemonic);
    });
    if (known == std::end(kMnemonics)) return fail("-113 undefined header " + text);
    header.mnemonics.push_back(short_form(*known));
    if (digits < part.size()) {
      if (header.mnemonics.size() > 1) return fail("-114 header suffix out of range " + text);
      header.channel = static_cast<std::size_t>(std::stoul(part.substr(digits)));
    }
  }
  if (header.channel == 0) header.channel = 1;
  if (header.channel > channels_.size()) return fail("-114 header suffix out of range " + text);
  return true;
}

bool ScpiSupply::execute(const Header& header, const std::string& data) {
  std::string path;
  for (const std::string& mnemonic : header.mnemonics) path += (path.empty() ? "" : ":") + mnemonic;
  Channel& channel = channels_[header.channel - 1];
  if (path == "OUTP" || path == "OUTP:STAT") {
    return read_boolean(data, channel.output) || fail("-104 data type error: " + data);
  }
  if (path == "TRIG:SOUR") {
    bus_trigger_ = upper(data) == "BUS";
    return bus_trigger_ || fail("-141 invalid character data: " + data);
  }
  if (path == "INIT" || path == "INIT:IMM") {
    initiated_ = data.empty();
    return initiated_ || fail("-108 parameter not allowed: " + data);
  }
  if (path.rfind("SOUR:", 0) != 0) return fail("-113 undefined header " + path);
  const bool understood = source(channel, path.substr(5), data);
  if (understood) note_level(channel);
  return understood;
}

// SCPI-1999, SOURce:VOLTage:MODE, from memory: in LIST the list sets the level, in FIXed the one that LEVel says.
void ScpiSupply::note_level(Channel& channel) {
  if (channel.played.size() < 2) return;
  const double level = channel.voltage_list ? channel.played[channel.played.size() - 2].voltage : channel.voltage;
  if (channel.after_list.empty() || channel.after_list.back() != level) channel.after_list.push_back(level);
}

bool ScpiSupply::source(Channel& channel, const std::string& path, const std::string& data) {
  if (path.rfind("LIST:", 0) == 0) return list(channel, path.substr(5), data);
  const std::size_t last = path.rfind(':');
  const std::string ending = last == std::string::npos ? "" : path.substr(last + 1);
  const std::string before = path.substr(0, last);
  const bool is_level = ending == "LEV" || ending == "AMPL";
  if (path == "VOLT" || path == "VOLT:LEV") return read_number(data, channel.voltage) || fail("-120 " + data);
  if (path == "CURR" || path == "CURR:LEV") return read_number(data, channel.current) || fail("-120 " + data);
  if (path == "VOLT:MODE" || path == "CURR:MODE") {
    const std::string word = upper(data);
    (path[0] == 'V' ? channel.voltage_list : channel.current_list) = word == "LIST";
    return word == "LIST" || word == "FIX" || word == "FIXED" || fail("-141 invalid character data: " + data);
  }
  const bool is_protection =
      before == "VOLT:PROT" || before == "CURR:PROT" || before == "POW:PROT" || before == "VOLT:LIM";
  if (is_protection && ending == "STAT") {
    return read_boolean(data, channel.states[before]) || fail("-104 data type error: " + data);
  }
  if (is_protection && is_level) return read_number(data, channel.protection[before]) || fail("-120 " + data);
  return fail("-113 undefined header " + path);
}

bool ScpiSupply::list(Channel& channel, const std::string& path, const std::string& data) {
  if (path == "VOLT") return read_list(data, channel.voltages) || fail("-120 numeric data error: " + data);
  if (path == "CURR") return read_list(data, channel.currents) || fail("-120 numeric data error: " + data);
  if (path == "DWEL") return read_list(data, channel.dwells) || fail("-120 numeric data error: " + data);
  double count = 0;
  if (path != "COUN") return fail("-113 undefined header LIST:" + path);
  if (!read_number(data, count) || count < 1) return fail("-222 data out of range: " + data);
  channel.count = static_cast<std::int64_t>(count);
  return true;
}

// Lists are as long as each other, or of one value that stands for all: else -226.
bool ScpiSupply::start() {
  for (Channel& channel : channels_) {
    if (channel.voltage_list != channel.current_list) return fail("only one of voltage and current plays its list");
    if (!channel.voltage_list) continue;
    const std::size_t points = std::max({channel.voltages.size(), channel.currents.size(), channel.dwells.size()});
    for (const std::vector<double>* one : {&channel.voltages, &channel.currents, &channel.dwells}) {
      if (one->size() != points && one->size() != 1) return fail("-226 lists not same length");
    }
    double time = 0;
    for (std::int64_t pass = 0; pass < channel.count; ++pass) {
      for (std::size_t i = 0; i < points; ++i) {
        channel.played.push_back({time, at(channel.voltages, i), at(channel.currents, i), channel.output});
        time += at(channel.dwells, i);
      }
    }
    channel.played.push_back({time, 0, 0, false});
  }
  running_ = true;
  return true;
}

// The last state is what the commands after the list set; it is filled in when they are read.
bool ScpiSupply::end_of_list() {
  if (!running_) return fail("nothing to wait for");
  running_ = false;
  return true;
}

}  // namespace rampart::test
