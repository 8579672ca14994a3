// References as FHIR R4 writes them (https://hl7.org/fhir/R4/references.html).
#pragma once

#include "json/tree.h"

#include <string>
#include <string_view>

namespace fhir {

enum class ReferenceKind {
  none,             // nothing usable
  relative,         // Type/id, on the server the text came from
  absolute,         // on another server, or an address that is no resource
  contained,        // #id inside the same resource; "#" alone is the container itself
  uuid,             // urn:uuid: or urn:oid:, meaningful inside one Bundle
  identifier_only,  // logical reference
  display_only
};

struct Reference {
  ReferenceKind kind = ReferenceKind::none;
  std::string written;            // Reference.reference as it stood
  std::string base;               // absolute only: address before Type/id, no trailing slash
  std::string type, id, version;  // relative, and absolute that ends in Type/id
  std::string fragment;           // contained: the id
  std::string identifier_system, identifier_value;
  std::string display;

  // "Type/id" for a reference on the same server, else "".
  std::string key() const { return kind == ReferenceKind::relative ? type + "/" + id : std::string(); }
  bool is(std::string_view resource_type) const { return kind == ReferenceKind::relative && type == resource_type; }
};

// `base_url`: the server the text came from; an absolute reference below it becomes relative. Same tail on another server stays absolute.
Reference parse_reference(std::string_view text, std::string_view base_url = {});
// A Reference element; null or no object gives ReferenceKind::none.
Reference read_reference(const json::Value& element, std::string_view base_url = {});

// FHIR id: 1-64 of A-Z a-z 0-9 - .
bool is_id(std::string_view text) noexcept;
// A resource type by its form only: capital first, letters.
bool is_type_name(std::string_view text) noexcept;

}  // namespace fhir
