#include "app/record_search.h"

#include "fhir/digest.h"
#include "fhir_write/verify.h"
#include "json/tree.h"

namespace app {
namespace {

using transport::Response;

constexpr int kPages = 500;  // a search that goes on for longer is no answer

store::NewEvent event_of(const json::Value& resource, std::string body) {
  store::NewEvent event;
  event.method = "PUT";
  event.resource_type = std::string(resource["resourceType"].text());
  event.resource_id = std::string(resource["id"].text());
  event.version_id = std::string(resource["meta"]["versionId"].text());
  event.content_hash = fhir::sha256_hex(body);
  event.body = std::move(body);
  event.request_id = "read again";
  return event;
}

store::NewEvent deletion_of(const std::string& path) {
  store::NewEvent event;
  event.method = "DELETE";
  event.resource_type = path.substr(0, path.find('/'));
  event.resource_id = path.substr(path.find('/') + 1);
  event.request_id = "read again";
  return event;
}

class Searching : public std::enable_shared_from_this<Searching> {
 public:
  Searching(RecordGet get, RecordSearch what, SearchDone done) : get_(std::move(get)), what_(std::move(what)), done_(std::move(done)) {}

  void next() {
    if (next_ == what_.paths.size() || pages_ > kPages) return done_(std::move(events_), whole_ && pages_ <= kPages);
    const std::string path = what_.paths[next_++];
    ++pages_;
    get_(path, [self = shared_from_this(), path](const Response* response) {
      self->take(path, response);
      self->next();
    });
  }

 private:
  void take(const std::string& path, const Response* response) {
    const bool one = path.find('?') == std::string::npos;
    if (response && one && response->status == 410) return events_.push_back(deletion_of(path));
    if (response && one && response->status == 404) return;
    const auto body = response && response->status == 200 ? json::parse(response->body) : json::parse("");
    if (body.has_error()) return void(whole_ = false);
    if (one) return take_resource(*body, response->body);
    if ((*body)["resourceType"].text() != "Bundle") return void(whole_ = false);
    for (const auto& entry : (*body)["entry"].items())
      if (fhir_write::own_identity(entry["resource"])) take_resource(entry["resource"], json::write(entry["resource"]));
    for (const auto& link : (*body)["link"].items())
      if (link["relation"].text() == "next") follow(std::string(link["url"].text()));
  }

  void take_resource(const json::Value& resource, std::string body) { events_.push_back(event_of(resource, std::move(body))); }

  void follow(const std::string& url) {
    const std::string below = what_.base_url + "/";
    if (url.starts_with(below) || url.starts_with(what_.base_url + "?")) {
      what_.paths.push_back(url.substr(below.size() - (url.starts_with(below) ? 0 : 1)));
    } else if (url.find("://") == std::string::npos && !url.empty()) {
      what_.paths.push_back(url);
    } else {
      whole_ = false;  // another host: not ours to ask
    }
  }

  RecordGet get_;
  RecordSearch what_;
  SearchDone done_;
  std::size_t next_ = 0;
  int pages_ = 0;
  std::vector<store::NewEvent> events_;
  bool whole_ = true;
};

}  // namespace

void search(const RecordGet& get, RecordSearch what, SearchDone done) { std::make_shared<Searching>(get, std::move(what), std::move(done))->next(); }

RecordSearch search_for(const store::Case& row, const std::vector<store::Item>& items, const std::string& base_url, bool forgotten) {
  RecordSearch search{{}, base_url};
  const std::string patient = row.patient.substr(row.patient.find('/') + 1);
  if (forgotten)
    for (const char* type : {"CarePlan", "Task", "DocumentReference", "GuidanceResponse"}) search.paths.push_back(std::string(type) + "?patient=" + patient + "&_count=100");
  for (const store::Item& item : items)
    if (!item.server_id.empty() && item.status != "withdrawn") search.paths.push_back(item.type + "/" + item.server_id);
  return search;
}

}  // namespace app
