#include "app/journal_event.h"

#include "fhir/digest.h"

namespace app {

store::NewEvent journal_event(std::string source, std::string method, std::string type, std::string id, std::string version, std::string body, std::string request_id) {
  store::NewEvent event;
  event.source = std::move(source);
  event.method = std::move(method);
  event.resource_type = std::move(type);
  event.resource_id = std::move(id);
  event.version_id = std::move(version);
  event.content_hash = body.empty() ? "" : fhir::sha256_hex(body);
  event.body = std::move(body);
  event.request_id = std::move(request_id);
  if (event.resource_id.empty() && !event.body.empty()) event.resource_id = "h-" + event.content_hash.substr(0, 40);
  return event;
}

store::NewEvent journal_event(const std::string& source, const fhir_read::ResourceEvent& event, const std::string& request_id) {
  return journal_event(source, event.method, event.type, event.id, event.version, event.body.is_null() ? "" : json::write(event.body), request_id);
}

}  // namespace app
