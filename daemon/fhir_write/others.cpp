#include "fhir_write/others.h"

#include <algorithm>
#include <utility>

#include "fhir/codes.h"
#include "fhir/labels.h"

namespace fhir_write {
namespace {

using json::Value;

bool is_ours(std::string_view address) { return address.starts_with(AFTERSHEATH_BASE); }

void add_to(Value& object, std::string_view list, const Value& one) {
  if (Value* all = object.find(list)) all->push(one);
  else object.set(list, Value::array({one}));
}

bool same_coding(const Value& a, const Value& b) { return a["system"].text() == b["system"].text() && a["code"].text() == b["code"].text(); }

void keep_codings(Value& ours, const Value& there, const char* list) {
  for (const Value& one : there[list].items()) {
    const auto mine = ours[list].items();
    if (!is_ours(one["system"].text()) && std::ranges::none_of(mine, [&](const Value& other) { return same_coding(one, other); })) add_to(ours, list, one);
  }
}

/// One label of confidentiality, the highest: what a resource was once labelled with it keeps.
void keep_highest_confidentiality(Value& meta) {
  const auto rank = [](const Value& label) { return label["system"].text() == fhir::confidentiality_system && label["code"].text().size() == 1 ? fhir::confidentiality_order.find(label["code"].text()) : std::string_view::npos; };
  std::size_t highest = 0, count = 0;
  for (const Value& label : meta["security"].items())
    if (const auto r = rank(label); r != std::string_view::npos) highest = std::max(highest, r), ++count;
  if (count < 2) return;
  Value kept = Value::array();
  bool taken = false;
  for (const Value& label : meta["security"].items()) {
    const auto r = rank(label);
    if (r == std::string_view::npos || (r == highest && !std::exchange(taken, true))) kept.push(label);
  }
  meta.set("security", std::move(kept));
}

}  // namespace

void keep_labels_of_others(Value& ours, const Value& there) {
  for (const Value& one : there["extension"].items()) {
    const auto mine = ours["extension"].items();
    if (!is_ours(one["url"].text()) && std::ranges::none_of(mine, [&](const Value& other) { return json::write(other) == json::write(one); })) add_to(ours, "extension", one);
  }
  for (const Value& one : there["identifier"].items())  // a single one, as GuidanceResponse may have, is no list
    if (!is_ours(one["system"].text()) && std::ranges::none_of(ours["identifier"].items(), [&](const Value& other) { return other["value"].text() == one["value"].text(); }))
      add_to(ours, "identifier", one);
  const Value& labels = there["meta"];
  if (!labels.is_object()) return;
  Value meta = ours["meta"].is_object() ? ours["meta"] : Value::object();
  keep_codings(meta, labels, "security");
  keep_highest_confidentiality(meta);
  keep_codings(meta, labels, "tag");
  for (const Value& profile : labels["profile"].items())
    if (std::ranges::none_of(meta["profile"].items(), [&](const Value& other) { return other.text() == profile.text(); })) add_to(meta, "profile", profile);
  if (meta.size() > 0) ours.set("meta", std::move(meta));
}

void keep_elements_of_others(Value& ours, const Value& there, std::span<const std::string_view> own) {
  for (const auto& member : there.members()) {
    const std::string_view name = member.name;
    if (name == "meta" || name == "identifier" || name == "extension" || ours.has(name) || std::ranges::find(own, name) != own.end()) continue;
    ours.set(name, member.value);
  }
}

}  // namespace fhir_write
