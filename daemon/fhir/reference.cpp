#include "fhir/reference.h"

#include <algorithm>
#include <vector>

namespace fhir {
namespace {

bool is_letter(char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z'); }

std::vector<std::string_view> split(std::string_view text, char separator) {
  std::vector<std::string_view> parts;
  for (std::size_t start = 0; start <= text.size();) {
    const auto end = std::min(text.find(separator, start), text.size());
    parts.push_back(text.substr(start, end - start));
    start = end + 1;
  }
  return parts;
}

// Type/id[/_history/version] at the end of `path`; fills `out` and returns what stands before it, or nothing when the tail is no resource.
bool take_tail(std::string_view path, Reference& out, std::string_view& before) {
  auto parts = split(path, '/');
  if (parts.size() >= 4 && parts[parts.size() - 2] == "_history") {
    out.version = parts.back();
    parts.resize(parts.size() - 2);
  }
  if (parts.size() < 2) return false;
  const auto id = parts.back();
  const auto type = parts[parts.size() - 2];
  if (!is_id(id) || !is_type_name(type)) return false;
  out.type = type;
  out.id = id;
  const auto start = static_cast<std::size_t>(type.data() - path.data());
  before = path.substr(0, start == 0 ? 0 : start - 1);
  return true;
}

std::string_view without_slash(std::string_view url) {
  while (url.ends_with('/')) url.remove_suffix(1);
  return url;
}

}  // namespace

bool is_id(std::string_view text) noexcept {
  const auto allowed = [](char c) { return is_letter(c) || (c >= '0' && c <= '9') || c == '-' || c == '.'; };
  return !text.empty() && text.size() <= 64 && std::ranges::all_of(text, allowed);
}

bool is_type_name(std::string_view text) noexcept {
  return !text.empty() && text.size() <= 64 && text.front() >= 'A' && text.front() <= 'Z' && std::ranges::all_of(text, is_letter);
}

Reference parse_reference(std::string_view text, std::string_view base_url) {
  Reference r;
  r.written = text;
  if (text.empty()) return r;
  if (text.front() == '#') {
    r.kind = ReferenceKind::contained;
    r.fragment = text.substr(1);
    return r;
  }
  if (text.starts_with("urn:uuid:") || text.starts_with("urn:oid:")) {
    r.kind = ReferenceKind::uuid;
    return r;
  }
  const auto path = text.substr(0, text.find_first_of("#?|"));
  std::string_view before;
  const bool resource = take_tail(path, r, before);
  if (text.find("://") != std::string_view::npos) {
    const bool ours = resource && !base_url.empty() && before == without_slash(base_url);
    r.kind = ours ? ReferenceKind::relative : ReferenceKind::absolute;
    if (!ours) r.base = resource ? before : path;
  } else if (resource && before.empty()) {
    r.kind = ReferenceKind::relative;
  }
  return r;
}

Reference read_reference(const json::Value& element, std::string_view base_url) {
  Reference r = parse_reference(element["reference"].text(), base_url);
  r.identifier_system = element["identifier"]["system"].text();
  r.identifier_value = element["identifier"]["value"].text();
  r.display = element["display"].text();
  if (r.kind == ReferenceKind::none && r.written.empty()) {
    if (!r.identifier_value.empty()) {
      r.kind = ReferenceKind::identifier_only;
    } else if (!r.display.empty()) {
      r.kind = ReferenceKind::display_only;
    }
  }
  return r;
}

}  // namespace fhir
