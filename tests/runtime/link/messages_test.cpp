#include "runtime/link/messages.h"

#include <doctest/doctest.h>

#include "runtime/link/instrument.h"
#include "tests/support/scpi_reader.h"

using namespace rampart;
using namespace rampart::link;

// IEEE 488.2, chapter 7, and SCPI-1999, volume 1, chapters 6 and 7, by the strict reader.
TEST_CASE("every default message is one that the standards have") {
  int checked = 0;
  for (const MessageRow& row : message_rows()) {
    if (row.text.empty()) continue;
    CAPTURE(std::string(row.key));
    const std::optional<std::string> message = Messages().filled(row.kind, {"2", Rational::fraction(3335, 1000)});
    REQUIRE(message);
    test::ScpiSupply supply(2);
    const bool understood = supply.read(*message + "\n");
    CAPTURE(supply.mistake());
    CHECK(understood);
    CHECK(mistake_of(row.kind, std::string(row.text)) == "");
    ++checked;
  }
  CHECK(checked == 28);
}

TEST_CASE("the strict reader refuses what is no message") {
  for (const std::string text :
       {"OUTPut1:STATe?\x01\n", "MEASure1:VOLTS?\n", "*IDN?\n*TST?\n", "OUTPut1:STATe? ON\n", "VOLT?"}) {
    CAPTURE(text);
    CHECK_FALSE(test::ScpiSupply(2).read(text));
  }
}

TEST_CASE("messages carry values exactly or not at all") {
  Messages messages;
  CHECK(messages.filled(MessageKind::Voltage, {"1", Rational::fraction(1, 200)}) == "SOURce1:VOLTage:LEVel 0.005");
  messages.replace(MessageKind::Voltage, "VOLT {voltage_V:.3f},(@{channel})");
  CHECK(messages.filled(MessageKind::Voltage, {"3", Rational(12)}) == "VOLT 12.000,(@3)");
  messages.replace(MessageKind::Voltage, "VOLT {voltage_V:.2f}");
  CHECK_FALSE(messages.filled(MessageKind::Voltage, {"3", Rational::fraction(1, 200)}));
  messages.replace(MessageKind::OutputOn, "");
  CHECK_FALSE(messages.has(MessageKind::OutputOn));
}

TEST_CASE("texts that cannot be a message") {
  CHECK(mistake_of(MessageKind::OutputOn, "OUTP ON?") == "a command, without `?`");
  CHECK(mistake_of(MessageKind::OutputState, "OUTP") == "one query, with one `?`");
  CHECK(mistake_of(MessageKind::OutputState, "OUTP?;VOLT?") == "one query, with one `?`");
  CHECK(mistake_of(MessageKind::Voltage, "VOLT 5") == "a text with the field `{voltage_V}`");
  CHECK(mistake_of(MessageKind::Voltage, "VOLT {voltage_V} {volts}").starts_with("a format of the fields it has"));
  CHECK(mistake_of(MessageKind::Voltage, "VOLT {voltage_V").starts_with("a format of the fields it has"));
  CHECK(mistake_of(MessageKind::OutputOn, "OUTP\tON") == "printable ASCII");
  CHECK(mistake_of(MessageKind::OutputOn, std::string(255, 'A')) == "at most 254 bytes long");
  CHECK(mistake_of(MessageKind::OutputOn, std::string(254, 'A')) == "");
  CHECK(mistake_of(MessageKind::OutputOn, "OUTP {channel:>2000000000}") == "a format with widths below 255");
  CHECK(mistake_of(MessageKind::Voltage, "VOLT {voltage_V:.99999999999999999999}") == "a format with widths below 255");
  CHECK(mistake_of(MessageKind::OutputOn, "OUTP {channel:>254}") == "at most 254 bytes long");
  CHECK(mistake_of(MessageKind::OutputOn, "OUTP {channel:>9} 2000000000") == "");
}

// IEEE 488.2, 8.7: NR1, NR2 and NR3.
TEST_CASE("answers that are numbers") {
  CHECK(parse_answer_number("1") == 1.0);
  CHECK(parse_answer_number("+1.25") == 1.25);
  CHECK(parse_answer_number("-3.3E+00") == -3.3);
  CHECK(parse_answer_number("9.91E37") == kNotANumber);
  for (const std::string text : {"", " 1", "1 ", "++1", "+-1", "1V", "nan", "inf", "0x10", "1,2", "1e999"}) {
    CAPTURE(text);
    CHECK_FALSE(parse_answer_number(text));
  }
}

// IEEE 488.2, 10.14: four fields separated by commas.
TEST_CASE("answers to the question who is there") {
  const std::optional<Identity> identity = parse_identity("Maker, Model 1 ,A-7,");
  REQUIRE(identity);
  CHECK(identity->model == "Model 1");
  CHECK(identity->serial_number == "A-7");
  CHECK(identity->firmware.empty());
  for (const std::string text : {"", "Maker,Model,A-7", "Maker,Model,,1.0", ",Model,A-7,1.0"}) {
    CAPTURE(text);
    CHECK_FALSE(parse_identity(text));
  }
}
