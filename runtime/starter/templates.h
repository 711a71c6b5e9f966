#pragma once

#include <string_view>

// The files beside this one as they were when the program was built; `@NAME@` stands for the name of the job.
namespace rampart::starter {

[[nodiscard]] std::string_view profile_template();
[[nodiscard]] std::string_view bench_template();
[[nodiscard]] std::string_view load_template();

}  // namespace rampart::starter
