#include "runtime/fold/phase_orbit.h"

#include <utility>

#include "lang/values/rational.h"

namespace rampart {
namespace {

// The least n >= 0 with low <= a n mod m <= high; 0 <= low <= high < m, 0 <= a < m.
std::optional<Int128> first_multiple(Int128 a, Int128 m, Int128 low, Int128 high) {
  if (low == 0) return 0;
  if (a == 0) return std::nullopt;
  if (2 * a > m) return first_multiple(m - a, m, m - high, m - low);
  const Int128 direct = (low + a - 1) / a;
  if (direct * a <= high) return direct;
  // The range holds no multiple of a. So with t whole turns a n - m t lies in it, that is m t lies in it turned round,
  // mod a: the same problem with smaller numbers.
  const auto turned = [a](Int128 value) { return (a - value % a) % a; };
  const std::optional<Int128> turns = first_multiple(m % a, a, turned(high), turned(low));
  if (!turns) return std::nullopt;
  return (low + m * *turns + a - 1) / a;
}

// The sum of floor((a i + b) / m) over 0 <= i < n; a, b >= 0.
Int128 floor_sum(Int128 n, Int128 m, Int128 a, Int128 b) {
  Int128 sum = 0;
  while (n > 0) {
    sum += n * (n - 1) / 2 * (a / m) + n * (b / m);
    a %= m;
    b %= m;
    const Int128 top = a * n + b;
    n = top / m;
    b = top % m;
    std::swap(a, m);
  }
  return sum;
}

}  // namespace

std::int64_t PhaseOrbit::phase(std::int64_t pass) const {
  return static_cast<std::int64_t>((Int128{start} + Int128{step} * pass) % modulus);
}

std::optional<std::int64_t> PhaseOrbit::first_in(const PhaseArc& arc) const {
  const auto ahead = [this](std::int64_t phase) { return (Int128{phase} - start + modulus) % modulus; };
  const Int128 low = ahead(arc.low);
  const Int128 high = ahead(arc.high);
  // Seen from the present phase the arc wraps around, so it holds that phase.
  if (low > high) return 0;
  const std::optional<Int128> pass = first_multiple(step, modulus, low, high);
  return pass ? std::optional(static_cast<std::int64_t>(*pass)) : std::nullopt;
}

std::int64_t PhaseOrbit::count_in(const PhaseArc& arc, std::int64_t passes) const {
  if (passes <= 0) return 0;
  const Int128 up_to_low = floor_sum(passes, modulus, step, Int128{start} + modulus - arc.low);
  const Int128 past_high = floor_sum(passes, modulus, step, Int128{start} + modulus - arc.high - 1);
  return static_cast<std::int64_t>(up_to_low - past_high);
}

}  // namespace rampart
