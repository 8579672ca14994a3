// Whether the record honours versions: tried once a run, before the first change, on something of ours.
#include <fmt/format.h>

#include "app/lanes.h"
#include "app/record_side.h"
#include "fhir_write/lookup.h"

namespace app {

using transport::Response;

namespace {

constexpr const char* kOverlooked = "the record overlooks If-Match: somebody could be written over, so nothing is written";

/// A proxy's page, with any status: the record has said nothing.
bool is_no_answer(const Response& response) {
  if (response.body.empty() || response.status >= 300) return false;
  const auto body = json::parse(response.body);
  return body.has_error() || (*body)["resourceType"].text().empty();
}

bool says_later(const Response* response) {
  return !response || is_no_answer(*response) || response->status == 429 || response->status == 401 || response->status == 408 || (response->status >= 500 && response->status != 501);
}
bool is_gone(const Response& response) { return response.status == 404 || response.status == 410; }
bool refuses_the_version(const Response& response) { return response.status == 409 || response.status == 412; }

}  // namespace

/// A GuidanceResponse, which nobody else changes; else the CarePlan; where that is served here a document, else a Task. None: none of them stands in the record.
std::optional<store::Item> RecordSide::item_to_try(const store::Case& row) const {
  const auto items = store_.items_of_case(row.key);
  if (items.has_error()) return std::nullopt;
  for (const std::string type : {"GuidanceResponse", "CarePlan", "DocumentReference", "Task"}) {
    if (type == "GuidanceResponse" && is_served(rules_, type)) continue;
    if (serves_a_part(rules_) && is_served(rules_, type)) continue;  // with documents all of the plan is here, and so is its fence
    for (store::Item item : *items) {
      if (item.type != type || item.server_id.empty()) continue;
      if (type == "CarePlan" && item.server_id != row.care_plan_id) continue;
      if (type == "CarePlan") item.etag = row.care_plan_etag;
      return item;
    }
    if (type == "CarePlan") break;
  }
  return std::nullopt;
}

/// Once a run, before the first change: an update of something of ours under a version that it cannot have must be refused. A record that overlooks
/// ifMatch would let us write over a nurse. What its metadata says about transactions is not believed. What is sent is what stands at that moment, so that the try
/// itself writes nothing over.
void RecordSide::try_transaction(const store::Case& row, std::function<void(Leave)> then) {
  using enum Leave::Kind;
  if (rung_ == Rung::none) return then({hold, kOverlooked});
  const auto tried = item_to_try(row);
  if (!tried) return then({go, ""});  // there is nothing yet that could be written over
  get(tried->type + "/" + tried->server_id, [this, tried = *tried, then = std::move(then)](const Response* response) {
    if (response && is_gone(*response)) return then({gone, "what is ours does not stand where it was"});
    auto body = response && response->status == 200 ? json::parse(response->body) : json::parse("null");
    const std::string version = body.has_value() ? std::string((*body)["meta"]["versionId"].text()) : "";
    if (body.has_error() || (*body)["resourceType"].text() != tried.type || version.empty()) return then({later, "what of ours stands could not be read"});
    try_with(std::move(*body), tried.server_id, "W/\"" + version + "\"", then);
  });
}

void RecordSide::try_with(json::Value standing, const std::string& id, const std::string& etag, std::function<void(Leave)> then) {
  using enum Leave::Kind;
  const std::string& chosen = rules_.configuration.record->writing;
  const json::Value stale = fhir_write::stale_update(std::move(standing), id, etag);
  transport::OutgoingRequest request;
  request.method = "POST";
  request.url = rules_.configuration.record->base_url;
  request.headers.add("Content-Type", "application/fhir+json");
  request.body = json::write(stale);
  if (chosen == "single-writes" || serves_a_part(rules_)) {
    why_no_transactions_ = serves_a_part(rules_) ? "a part of it is served here" : "record.writing says so";
    return try_single_write(stale, etag, std::move(then));
  }
  send(std::move(request), [this, stale, stands = etag, then = std::move(then), only = chosen == "transactions"](const Response* response) {
    if (says_later(response)) return then({later, "whether the record honours ifMatch could not be tried"});
    if (refuses_the_version(*response)) {
      rung_ = Rung::transactions;
      return then({go, ""});
    }
    why_no_transactions_ = response->status < 300 ? "it overlooks ifMatch inside a transaction" : fmt::format("it answers a transaction with {}", response->status);
    if (only && is_gone(*response)) return then({gone, "what is ours does not stand where it was"});
    if (only) return then({hold, "record.writing is transactions, and " + why_no_transactions_});
    try_single_write(stale, stands, then);
  });
}

/// The same as one update. What a record that overlooked the version has put in place is the CarePlan as it stood.
void RecordSide::try_single_write(const json::Value& stale_bundle, const std::string& stands, std::function<void(Leave)> then) {
  using enum Leave::Kind;
  const json::Value& entry = stale_bundle["entry"].at(0);
  transport::OutgoingRequest request;
  request.method = "PUT";
  request.url = rules_.configuration.record->base_url + "/" + std::string(entry["request"]["url"].text());
  request.headers.add("Content-Type", "application/fhir+json");
  request.headers.add("If-Match", std::string(entry["request"]["ifMatch"].text()));
  request.body = json::write(entry["resource"]);
  const std::string path(entry["request"]["url"].text());
  send(std::move(request), [this, path, stands, then = std::move(then)](const Response* response) {
    if (says_later(response)) return then({later, "whether the record honours If-Match could not be tried"});
    if (refuses_the_version(*response)) {
      rung_ = Rung::single_writes;
      return then({go, ""});
    }
    if (is_gone(*response)) return then({gone, "what is ours does not stand where it was"});
    if (response->status >= 300) return then({hold, fmt::format("the record takes no change of what is ours ({}), and {}", response->status, why_no_transactions_)});
    if (response->body.empty()) return see_whether_overlooked(path, stands, then);
    rung_ = Rung::none;
    then({hold, kOverlooked});
  });
}

/// A success without a word may be somebody's in between who has done nothing.
void RecordSide::see_whether_overlooked(const std::string& path, const std::string& etag, std::function<void(Leave)> then) {
  using enum Leave::Kind;
  get(path, [this, etag, then = std::move(then)](const Response* response) {
    const auto body = response && response->status == 200 ? json::parse(response->body) : json::parse("null");
    const std::string version = body.has_value() ? std::string((*body)["meta"]["versionId"].text()) : "";
    if (version.empty() || "W/\"" + version + "\"" == etag) return then({later, "the record said nothing to a try whether it honours If-Match"});
    rung_ = Rung::none;
    then({hold, kOverlooked});
  });
}

}  // namespace app
