#include "fhir_read/resource_set.h"

#include "fhir_read/readers.h"

#include <algorithm>

namespace fhir_read {

const json::Value& subject_element(const json::Value& resource) {
  if (resource["resourceType"].text() == "OperationOutcome") return kept_back_about(resource, "patient");
  for (const auto* name : {"subject", "patient", "for"}) {
    const auto& found = resource[name];
    const auto all = found.items();
    const bool one = !all.empty() && std::ranges::all_of(all, [&](const json::Value& s) { return s["reference"].text() == all.front()["reference"].text(); });
    if (one) return all.front();
    if (!found.is_null()) return found;
  }
  return resource["subject"];
}

void ResourceSet::add(Resource resource) {
  const auto [it, added] = index_.try_emplace({resource.source, resource.key()}, resources_.size());
  if (added) {
    resources_.push_back(std::move(resource));
  } else {
    resources_[it->second] = std::move(resource);
  }
}

const Resource* ResourceSet::find(std::string_view source, std::string_view key) const {
  const auto it = index_.find({std::string(source), std::string(key)});
  return it == index_.end() ? nullptr : &resources_[it->second];
}

const json::Value* ResourceSet::resolve(const json::Value& reference, const Resource& from) const {
  const auto target = fhir::read_reference(reference, from.base_url);
  switch (target.kind) {
    case fhir::ReferenceKind::contained: {
      const auto contained = from.body["contained"].items();
      const auto it = std::ranges::find_if(contained, [&](const json::Value& c) { return c["id"].text() == target.fragment; });
      return it == contained.end() ? nullptr : &*it;
    }
    case fhir::ReferenceKind::relative: {
      const Resource* found = find(from.source, target.key());
      return found ? &found->body : nullptr;
    }
    case fhir::ReferenceKind::absolute: {
      const auto it = std::ranges::find_if(resources_, [&](const Resource& r) {
        return !r.base_url.empty() && r.base_url == target.base && r.type == target.type && r.id == target.id;
      });
      return it == resources_.end() ? nullptr : &it->body;
    }
    default: return nullptr;
  }
}

}  // namespace fhir_read
