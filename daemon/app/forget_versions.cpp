#include "app/forget_versions.h"

#include "app/case_notes.h"

namespace app {

store::Result<void> forget_versions(store::Store& inside, const std::string& case_key) {
  auto row = inside.case_of(case_key);
  if (row.has_error()) return row.error();
  if (!*row || (*row)->care_plan_id.empty()) return {};
  CaseNotes notes = notes_of(**row);
  notes.search = true;
  (*row)->extra = text_of(notes);
  (*row)->care_plan_etag.clear();
  if (auto put = inside.put_case(**row); put.has_error()) return put;
  auto items = inside.items_of_case(case_key);
  if (items.has_error()) return items.error();
  for (store::Item& item : *items) {
    item.etag.clear();
    item.window.clear();
    if (auto put = inside.put_item(item); put.has_error()) return put;
  }
  return {};
}

}  // namespace app
