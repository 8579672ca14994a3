#include "app/intake_path.h"

#include <vector>

#include "fhir/reference.h"

namespace app {
namespace {

std::vector<std::string> segments_of(std::string_view target) {
  target = target.substr(0, target.find_first_of("?#"));
  std::vector<std::string> segments;
  while (!target.empty()) {
    target.remove_prefix(target.front() == '/' ? 1 : 0);
    const auto end = target.find('/');
    if (end != 0 && !target.empty()) segments.emplace_back(target.substr(0, end));
    target.remove_prefix(end == std::string_view::npos ? target.size() : end);
  }
  return segments;
}

bool writes(std::string_view method) { return method == "PUT" || method == "POST" || method == "DELETE"; }

/// segments[from..]: {Type} or {Type}/{id}. False when they are neither.
bool read_type_and_id(const std::vector<std::string>& segments, std::size_t from, IntakePath& path) {
  if (segments.size() > from + 2) return false;
  if (segments.size() > from) {
    path.type = segments[from];
    if (!fhir::is_type_name(path.type)) return false;
  }
  if (segments.size() > from + 1) {
    path.id = segments[from + 1];
    if (!fhir::is_id(path.id)) return false;
  }
  return true;
}

}  // namespace

IntakePath intake_path(std::string_view method, std::string_view target) {
  const auto segments = segments_of(target);
  IntakePath path;
  if (segments.empty() || segments[0] != "fhir") return path;
  if (segments.size() == 1) {
    path.kind = method == "POST" ? IntakeKind::bundle : IntakeKind::bad_method;
    return path;
  }
  if (segments[1] == "metadata" && segments.size() == 2) {
    path.kind = method == "GET" || method == "HEAD" ? IntakeKind::metadata : IntakeKind::bad_method;
    return path;
  }
  const bool hook = segments[1] == "hook";
  if (hook && (segments.size() < 4 || !fhir::is_id(segments[2]) || !fhir::is_id(segments[3]))) return path;
  if (hook && segments.size() == 5 && segments[4] == "metadata") {  // a server may look whether its endpoint is a FHIR base
    path.kind = method == "GET" || method == "HEAD" ? IntakeKind::metadata : IntakeKind::bad_method;
    return path;
  }
  if (hook) path.source = segments[2], path.hook = segments[3];
  if (!read_type_and_id(segments, hook ? 4 : 1, path)) {
    if (!hook) return IntakePath{};
    path.type.clear(), path.id.clear();
    path.odd = true;
  }
  path.kind = hook ? IntakeKind::hook : IntakeKind::resource;
  const bool needs_id = !hook && method != "POST";
  if (hook && method != "GET" && method != "HEAD" && method != "OPTIONS") path.odd = path.odd || !writes(method);
  else if (!writes(method)) path.kind = IntakeKind::bad_method;
  else if (needs_id && path.id.empty()) path.kind = IntakeKind::bad_method;
  return path;
}

}  // namespace app
