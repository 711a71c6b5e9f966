#pragma once

#include <cstddef>
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "compiler/bench/bench.h"
#include "compiler/profile/profile.h"

namespace rampart {

// What a row of a log can be about: a rail of the profile, a channel of the bench, or a trigger line of it. They are
// numbered in this order.
class LogNames {
 public:
  LogNames(const Profile& profile, const Bench& bench);

  enum class Of : std::uint8_t { Rail, Channel, Line };
  struct Target {
    Of of{};
    std::size_t index = 0;  // of the profile's rails, the bench's channels; of all lines
    std::string name;
  };

  [[nodiscard]] std::size_t count() const { return targets_.size(); }
  [[nodiscard]] const Target& operator[](std::size_t target) const { return targets_[target]; }
  [[nodiscard]] std::optional<std::size_t> find_rail(std::string_view name) const;
  // Lines too.
  [[nodiscard]] std::optional<std::size_t> find_channel(std::string_view name) const;
  [[nodiscard]] std::size_t of_channel(ChannelId channel) const;
  [[nodiscard]] std::size_t of_rail(RailId rail) const { return static_cast<std::size_t>(rail); }
  // For hints.
  [[nodiscard]] std::vector<std::string> all() const;

 private:
  void add(Of of, std::size_t index, std::string name);

  std::vector<Target> targets_;
  std::size_t rails_ = 0;
  std::map<std::string, std::size_t, std::less<>> rail_names_;
  std::map<std::string, std::size_t, std::less<>> channel_names_;
};

}  // namespace rampart
