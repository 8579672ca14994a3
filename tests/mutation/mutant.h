// The switch behind every mutant: mutant number N is wrong when the environment says MUTANT=N. Copied into the rewritten daemon/clinical, never part of the daemon.
#pragma once

#include <algorithm>
#include <bitset>
#include <concepts>
#include <cstdlib>
#include <initializer_list>
#include <optional>
#include <type_traits>
#include <utility>

namespace mutant {

constexpr int kMost = 16384;
inline const int chosen = [] {
  const char* n = std::getenv("MUTANT");
  return n ? std::atoi(n) : 0;
}();
/// Those that were come by since the last look: which tests can tell them apart from the right ones.
inline std::bitset<kMost> met;

/// Those that are a program of their own. A sum whose difference is no value of the same kind compiles to the right one alone: there is no mutant.
inline std::bitset<kMost>& known() {
  static std::bitset<kMost> all;
  return all;
}
template <int N>
inline const bool exists = (known().set(N), true);

template <int N>
constexpr bool on() {
  static_cast<void>(&exists<N>);
  if (std::is_constant_evaluated()) return false;
  met.set(N);
  return chosen == N;
}
template <int N>
constexpr bool flip(bool right) { return right != on<N>(); }
template <int N>
constexpr bool off() { return on<N>(); }
template <int N, class F>
constexpr bool yes(F&& clause) { return on<N>() || clause(); }
template <int N, class F>
constexpr bool no(F&& clause) { return !on<N>() && clause(); }

// a < less<N>{} < b: the first yields a half, the second the answer; all of one precedence.
#define MUTANT_RELATION(name, op, right, wrong)                                     \
  template <int N>                                                                  \
  struct name {};                                                                   \
  template <class A, int N>                                                         \
  struct name##_half {                                                              \
    const A& a;                                                                     \
    template <class B>                                                              \
    friend constexpr auto operator op(name##_half half, const B& b) {               \
      if constexpr (requires { half.a wrong b; }) {                                 \
        if (on<N>()) return bool(half.a wrong b);                                   \
      }                                                                             \
      return bool(half.a right b);                                                  \
    }                                                                               \
    template <class B>                                                              \
    friend constexpr auto operator op(name##_half half, const std::optional<B>& b) { \
      return bool(on<N>() ? half.a wrong b : half.a right b);                       \
    }                                                                               \
  };                                                                                \
  template <class A, int N>                                                         \
  constexpr name##_half<A, N> operator op(const A& a, name<N>) { return {a}; }
MUTANT_RELATION(less, <, <, <=)
MUTANT_RELATION(at_most, <, <=, <)
MUTANT_RELATION(greater, <, >, >=)
MUTANT_RELATION(at_least, <, >=, >)
MUTANT_RELATION(equal, ==, ==, !=)
MUTANT_RELATION(different, !=, !=, ==)
#undef MUTANT_RELATION

// a + plus<N>{} + b; where a - b is no value of the same kind there is no mutant.
#define MUTANT_SUM(name, op, wrong)                                                                        \
  template <int N>                                                                                         \
  struct name {};                                                                                          \
  template <class A, int N>                                                                                \
  struct name##_half {                                                                                     \
    const A& a;                                                                                            \
    template <class B>                                                                                     \
    friend constexpr auto operator op(name##_half half, const B& b) {                                      \
      if constexpr (requires { { half.a wrong b } -> std::same_as<decltype(half.a op b)>; }) {             \
        if (on<N>()) return half.a wrong b;                                                                \
      }                                                                                                    \
      return half.a op b;                                                                                  \
    }                                                                                                      \
  };                                                                                                       \
  template <class A, int N>                                                                                \
  constexpr name##_half<A, N> operator op(const A& a, name<N>) { return {a}; }
MUTANT_SUM(plus, +, -)
MUTANT_SUM(minus, -, +)
#undef MUTANT_SUM

template <int N, class T>
constexpr T maximum(const T& a, const T& b) { return on<N>() ? std::min(a, b) : std::max(a, b); }
template <int N, class T>
constexpr T minimum(const T& a, const T& b) { return on<N>() ? std::max(a, b) : std::min(a, b); }

}  // namespace mutant
