#pragma once

#include <cstddef>
#include <string>
#include <string_view>

namespace rampart {

// A computed figure with four significant digits, for tables and first screens; a time of a minute or more to its
// second.
[[nodiscard]] std::string short_text(double value, std::string_view unit);
// Rounded towards less, so that what is left of a limit never reads as more than it is. What differs from a round
// number by `noise` or less is that number.
[[nodiscard]] std::string short_text_down(double value, std::string_view unit, double noise = 0);
// The same rounded towards more, for what goes beyond a limit or has to be enough.
[[nodiscard]] std::string short_text_up(double value, std::string_view unit, double noise = 0);

// "1 error", "3 errors".
[[nodiscard]] std::string counted(std::size_t count, std::string_view word);

}  // namespace rampart
