#include "fhir_write/lookup.h"

#include <algorithm>

#include "fhir/codes.h"

namespace fhir_write {

using json::Value;

std::vector<Lookup> lookups(const Value& request_bundle) {
  std::vector<Lookup> list;
  for (const Value& entry : request_bundle["entry"].items()) {
    const Value& resource = entry["resource"];
    Lookup one;
    one.type = resource["resourceType"].text();
    one.identity = own_identity(resource).value_or("");
    one.created = entry["request"]["method"].text() == "POST";
    one.if_match = entry["request"]["ifMatch"].text();
    if (!one.created) one.query = entry["request"]["url"].text();
    else if (!one.identity.empty()) one.query = one.type + "?identifier=" + std::string(fhir::item_identifier_system) + "%7C" + one.identity;
    list.push_back(std::move(one));
  }
  return list;
}

namespace {

std::optional<Placed> placed_from(const Value& resource, const std::string& identity) {
  if (own_identity(resource) != identity) return std::nullopt;
  const std::string version(resource["meta"]["versionId"].text());
  return Placed{identity, std::string(resource["resourceType"].text()), std::string(resource["id"].text()), version, "W/\"" + version + "\"", 200};
}

}  // namespace

std::optional<Placed> found(const Value& answer, const std::string& identity) {
  if (answer["resourceType"].text() != "Bundle") return placed_from(answer, identity);
  for (const Value& entry : answer["entry"].items())
    if (auto one = placed_from(entry["resource"], identity)) return one;
  return std::nullopt;
}

Value rebuilt_response(const Value& request_bundle, const std::vector<Placed>& found) {
  Value entries = Value::array();
  for (const Value& entry : request_bundle["entry"].items()) {
    const std::string identity = own_identity(entry["resource"]).value_or("");
    const auto known = std::find_if(found.begin(), found.end(), [&](const Placed& one) { return !identity.empty() && one.identity == identity; });
    Value response = Value::object({{"status", "200"}});
    if (known != found.end()) {
      response.set("location", known->type + "/" + known->id + "/_history/" + known->version);
      response.set("etag", known->etag);
    } else {
      response.set("location", std::string(entry["resource"]["resourceType"].text()) + "/looked-up/_history/1");
    }
    entries.push(Value::object({{"response", std::move(response)}}));
  }
  return Value::object({{"resourceType", "Bundle"}, {"type", "transaction-response"}, {"entry", std::move(entries)}});
}

}  // namespace fhir_write
