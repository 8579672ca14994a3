#include <fmt/format.h>

#include <array>
#include <charconv>

#include "clinical/change.h"
#include "clinical/names.h"

namespace clinical {
namespace {

constexpr std::array<std::string_view, 6> kKinds{"care-plan", "task", "cancellation", "document", "guidance", "order-clash"};
constexpr std::array<std::string_view, 3> kIntents{"proposal", "plan", "order"};

template <class E, std::size_t N>
std::optional<E> named(const std::array<std::string_view, N>& names, std::string_view name) {
  for (std::size_t i = 0; i < N; ++i)
    if (names[i] == name) return static_cast<E>(i);
  return std::nullopt;
}

// Takes the text up to the next '|' off the front.
std::string_view next_field(std::string_view& rest) {
  const auto end = std::min(rest.find('|'), rest.size());
  const auto field = rest.substr(0, end);
  rest.remove_prefix(std::min(end + 1, rest.size()));
  return field;
}

std::optional<int> number(std::string_view text) {
  int value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (text.empty() || error != std::errc{} || end != text.data() + text.size()) return std::nullopt;
  return value;
}

}  // namespace

// The cause comes last: it is the only field that may contain a '|'.
std::string text_of(const ItemKey& key) {
  return fmt::format("{}|{}|{}|{}|{}|{}|{}|{}", kKinds[static_cast<std::size_t>(key.kind)], kIntents[static_cast<std::size_t>(key.intent)],
                     key.step ? name_of(*key.step) : std::string_view(), key.generation, key.ordinal, key.replacement, key.site, key.cause);
}

std::optional<ItemKey> key_from(std::string_view text) {
  const auto kind = named<ItemKind>(kKinds, next_field(text));
  const auto intent = named<Intent>(kIntents, next_field(text));
  const auto step_text = next_field(text);
  const auto step = step_named(step_text);
  const auto generation = number(next_field(text)), ordinal = number(next_field(text)), replacement = number(next_field(text));
  if (!kind || !intent || (!step && !step_text.empty()) || !generation || !ordinal || !replacement) return std::nullopt;
  const std::string site(next_field(text));
  return ItemKey{*kind, *intent, step, site, *generation, *ordinal, std::string(text), *replacement};
}

bool is_patient_step(Step step) {
  return step == Step::raise_head || step == Step::sit_up || step == Step::stand_and_walk || step == Step::discharge_check;
}

bool is_shared_step(Step step) {
  return is_patient_step(step) || step == Step::draw_coagulation || step == Step::ask_anticoagulant_plan;
}

Intent intent_for(const Protocol& protocol) { return protocol.approved ? Intent::plan : Intent::proposal; }

}  // namespace clinical
