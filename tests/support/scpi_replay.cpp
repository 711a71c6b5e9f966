// Reads program messages from standard input, one a line, as the strict supply of SCPI-1999 and IEEE 488.2 does. Prints
// the first mistake. usage: scpi_replay CHANNELS < MESSAGES
#include <cstdlib>
#include <iostream>
#include <string>

#include "tests/support/scpi_reader.h"

int main(int count, char** arguments) {
  if (count != 2) return 2;
  rampart::test::ScpiSupply supply(static_cast<std::size_t>(std::atol(arguments[1])));
  std::string line;
  std::int64_t lines = 0;
  while (std::getline(std::cin, line)) {
    ++lines;
    if (supply.read(line + "\n")) continue;
    std::cout << "message " << lines << ": `" << line << "`: " << supply.mistake() << "\n";
    return 1;
  }
  std::cout << lines << " messages, no mistake\n";
  return lines > 0 ? 0 : 2;
}
