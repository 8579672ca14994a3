#include "app/clashes_here.h"

#include <algorithm>

#include "app/standing_items.h"
#include "fhir_write/detected_issue.h"
#include "fhir_write/identity.h"
#include "json/tree.h"

namespace app {

std::vector<store::Item> take_clashes_here(clinical::Difference& difference, const ClashesHere& of) {
  const auto stands_here = [&](const clinical::ItemKey& key) { return std::ranges::any_of(of.in.items, [&](const store::Item& item) { return is_clash_here(item) && key_of(item) == key; }); };
  const auto here = [&](const clinical::Change& change) {
    if (change.key.kind != clinical::ItemKind::order_clash) return false;
    return change.kind == clinical::ChangeKind::create ? of.in.clashes_here : stands_here(change.key);
  };
  const auto after = clinical::applied(difference, of.standing);
  std::vector<store::Item> taken;
  for (const auto& change : difference.changes) {
    if (!here(change)) continue;
    const std::string identity = fhir_write::identity(of.writer, of.plan, change.key);
    store::Item item = row_of(*std::ranges::find(after, change.key, &clinical::Standing::key), of.in.key, identity, fhir_write::type_of(change.key.kind));
    item.server_id = identity;
    item.body = json::write(fhir_write::issue_served(of.writer, of.plan, change));
    taken.push_back(std::move(item));
  }
  std::erase_if(difference.changes, here);
  return taken;
}

}  // namespace app
