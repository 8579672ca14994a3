#include "app/owners.h"

#include "app/standing_items.h"

namespace app {

std::vector<fhir_write::WriterContext::InOtherHands> in_other_hands(const std::vector<store::Item>& items, const std::vector<clinical::Standing>& standing, const fhir_write::Named& owner) {
  std::vector<fhir_write::WriterContext::InOtherHands> all;
  const auto known = on_server(items);
  for (const clinical::Standing& one : standing) {
    const auto there = known.find(one.key);
    if (one.key.kind != clinical::ItemKind::task || one.state != clinical::Stands::claimed || there == known.end()) continue;
    const auto put_to = there->second.body["owner"]["reference"].text();
    if (!put_to.empty() && put_to != owner.reference) all.push_back({std::string(there->second.body["code"]["text"].text()), one.claimed_by});
  }
  return all;
}

}  // namespace app
