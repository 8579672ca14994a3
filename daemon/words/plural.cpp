#include "words/plural.h"

#include <algorithm>
#include <iterator>

namespace words {
namespace {

std::string_view one_is_1(std::int64_t n) { return n == 1 ? "one" : "other"; }
std::string_view one_is_0_and_1(std::int64_t n) { return n == 0 || n == 1 ? "one" : "other"; }
std::string_view no_forms(std::int64_t) { return "other"; }
std::string_view polish(std::int64_t n) {
  if (n == 1) return "one";
  return n % 10 >= 2 && n % 10 <= 4 && (n % 100 < 12 || n % 100 > 14) ? "few" : "many";
}

std::string_view arabic(std::int64_t n) {
  if (n <= 2) return n == 0 ? "zero" : n == 1 ? "one" : "two";
  const std::int64_t rest = n % 100;
  return rest >= 3 && rest <= 10 ? "few" : rest >= 11 ? "many" : "other";
}

struct Rule {
  std::string_view language;
  std::string_view (*form)(std::int64_t);
};
constexpr Rule kRules[] = {
    {"en", one_is_1}, {"de", one_is_1}, {"nl", one_is_1}, {"sv", one_is_1}, {"da", one_is_1}, {"nb", one_is_1}, {"fi", one_is_1},
    {"es", one_is_1}, {"it", one_is_1}, {"fr", one_is_0_and_1}, {"pt", one_is_0_and_1}, {"hi", one_is_0_and_1},
    {"ja", no_forms}, {"zh", no_forms}, {"vi", no_forms}, {"ko", no_forms}, {"pl", polish}, {"ar", arabic},
};

}  // namespace

std::string_view plural_form(std::string_view language, std::int64_t n) {
  const auto tag = language.substr(0, language.find('-'));
  const auto* rule = std::find_if(std::begin(kRules), std::end(kRules), [&](const Rule& r) { return r.language == tag; });
  return rule == std::end(kRules) ? one_is_1(n) : rule->form(n < 0 ? -n : n);
}

bool is_plural_form(std::string_view name) {
  constexpr std::string_view forms[] = {"zero", "one", "two", "few", "many", "other"};
  return std::find(std::begin(forms), std::end(forms), name) != std::end(forms);
}

}  // namespace words
