#include "app/subscription_calls.h"

#include <fmt/format.h>

#include <algorithm>

#include "app/record_search.h"
#include "fhir_write/subscription.h"

namespace app {
namespace {

using transport::Response;

constexpr int kPages = 50;

bool is_refusal(int status) { return status == 400 || (status >= 403 && status <= 406) || status == 422 || status == 501; }

std::optional<json::Value> resource_in(const Response* response, std::string_view type) {
  if (!response || response->status != 200) return std::nullopt;
  auto body = json::parse(response->body);
  if (body.has_error() || (*body)["resourceType"].text() != type) return std::nullopt;
  return std::move(*body);
}

/// The value of a query, for what may stand there of an address and a tag.
std::string in_query(std::string_view text) {
  std::string out;
  for (const char c : text) {
    const bool plain = (c >= '0' && c <= '9') || (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '-' || c == '.' || c == '_' || c == '~' || c == '/' || c == ':';
    out += plain ? std::string(1, c) : fmt::format("%{:02X}", static_cast<unsigned char>(c));
  }
  return out;
}

/// "17" of "https://record.example/fhir/Subscription/17/_history/1".
std::string id_in(std::string_view location) {
  constexpr std::string_view type = "/Subscription/";
  const auto at = location.find(type);
  if (at == std::string_view::npos) return location.starts_with(type.substr(1)) ? id_in("/" + std::string(location)) : "";
  const auto rest = location.substr(at + type.size());
  return std::string(rest.substr(0, rest.find('/')));
}

void take_page(const json::Value& bundle, SubscriptionCalls::List& list) {
  for (const auto& entry : bundle["entry"].items())
    if (auto brief = fhir_read::subscription_brief(entry["resource"])) list.all.push_back({std::move(*brief), entry["resource"]});
}

}  // namespace

void SubscriptionCalls::get(const std::string& path, std::function<void(const Response*)> then) {
  transport::OutgoingRequest request;
  request.url = base_url_ + "/" + path;
  request.timeout = timeout_;
  request.headers.add("Cache-Control", "no-cache");
  send_(std::move(request), std::move(then));
}

void SubscriptionCalls::ability(std::function<void(std::optional<Ability>)> then) {
  get("metadata", [this, then = std::move(then)](const Response* response) mutable {
    const auto statement = resource_in(response, "CapabilityStatement");
    if (!statement) return then(std::nullopt);
    Ability ability{fhir_read::subscription_ability(*statement), std::string(response->headers.get("Date").value_or(""))};
    if (!ability.record.by_topic && !ability.record.r5) return then(std::move(ability));
    if (!ability.record.topics.empty()) return then(std::move(ability));
    add_topics(std::move(ability), std::move(then));
  });
}

/// A record that names no topic in its CapabilityStatement may keep them as resources (backport guide, "Topic discovery"). Where it does not say, none is refused.
void SubscriptionCalls::add_topics(Ability ability, std::function<void(std::optional<Ability>)> then) {
  get(ability.record.r5 ? "SubscriptionTopic?_count=100" : "Basic?code=SubscriptionTopic&_count=100", [ability = std::move(ability), then = std::move(then)](const Response* response) mutable {
    const auto bundle = resource_in(response, "Bundle");
    if (bundle)
      for (const auto& entry : (*bundle)["entry"].items())
        if (std::string topic = fhir_read::topic_of(entry["resource"]); !topic.empty()) ability.record.topics.push_back(std::move(topic));
    // A first page is a part: what it does not name may be on the next.
    if (bundle)
      for (const auto& link : (*bundle)["link"].items())
        if (link["relation"].text() == "next") ability.record.topics.clear();
    then(std::move(ability));
  });
}

void SubscriptionCalls::list(const std::string& tag, std::function<void(List)> then) {
  const std::string path = no_tag_ ? "Subscription?_count=100" : "Subscription?_tag=" + in_query(tag) + "&_count=100";
  page(path, std::make_shared<List>(), 0, [this, tag, then = std::move(then)](List list) {
    if (!list.refused || no_tag_) return then(std::move(list));
    no_tag_ = true;
    this->list(tag, then);
  });
}

void SubscriptionCalls::page(const std::string& path, std::shared_ptr<List> list, int pages, std::function<void(List)> then) {
  get(path, [this, list, pages, then = std::move(then)](const Response* response) {
    if (response && list->date.empty()) list->date = std::string(response->headers.get("Date").value_or(""));
    if (response && is_refusal(response->status)) list->refused = true;
    const auto bundle = resource_in(response, "Bundle");
    if (!bundle) return then(std::move(*list));
    take_page(*bundle, *list);
    for (const auto& link : (*bundle)["link"].items()) {
      if (link["relation"].text() != "next") continue;
      const auto next = next_page(std::string(link["url"].text()), base_url_, rebase_, "Subscription?");
      return next.refused.empty() && pages < kPages ? page(next.path, list, pages + 1, then) : then(std::move(*list));
    }
    list->whole = true;
    then(std::move(*list));
  });
}

void SubscriptionCalls::read(const std::string& id, std::function<void(int, std::optional<SeenSubscription>)> then) {
  get("Subscription/" + id, [then = std::move(then)](const Response* response) {
    const auto body = resource_in(response, "Subscription");
    auto brief = body ? fhir_read::subscription_brief(*body) : std::nullopt;
    if (!brief) return then(response && response->status != 200 ? response->status : 0, std::nullopt);
    then(200, SeenSubscription{std::move(*brief), *body});
  });
}

void SubscriptionCalls::write(const char* method, const std::string& path, const json::Value& body, const std::string& version, std::function<void(Written)> then) {
  transport::OutgoingRequest request;
  request.method = method;
  request.url = base_url_ + "/" + path;
  request.timeout = timeout_;
  if (!version.empty()) request.headers.add("If-Match", "W/\"" + version + "\"");
  if (!body.is_null()) {
    request.headers.add("Content-Type", "application/fhir+json");
    request.headers.add("Prefer", "return=representation");
    request.body = json::write(body);
  }
  send_(std::move(request), [then = std::move(then)](const Response* response) {
    if (!response) return then({});
    Written written{.status = response->status, .id = id_in(response->headers.get("Location").value_or("")), .state = ""};
    if (response->status < 300)
      if (const auto parsed = json::parse(response->body); parsed.has_value())
        if (const auto brief = fhir_read::subscription_brief(*parsed)) {
          written.state = brief->status;
          if (written.id.empty()) written.id = brief->id;
        }
    then(std::move(written));
  });
}

void SubscriptionCalls::create(const json::Value& subscription, std::function<void(Written)> then) { write("POST", "Subscription", subscription, "", std::move(then)); }

void SubscriptionCalls::update(const json::Value& subscription, const std::string& version, std::function<void(Written)> then) {
  write("PUT", "Subscription/" + std::string(subscription["id"].text()), subscription, version, std::move(then));
}

void SubscriptionCalls::remove(SeenSubscription seen, std::function<void(bool)> then) {
  const std::string path = "Subscription/" + seen.brief.id;
  write("DELETE", path, json::Value(), seen.brief.version, [this, seen = std::move(seen), then = std::move(then)](const Written& written) {
    if ((written.status >= 200 && written.status < 300) || written.status == 404 || written.status == 410) return then(true);
    if (!is_refusal(written.status)) return then(false);
    if (seen.brief.status == "off") return then(true);
    update(fhir_write::switched_off(seen.body), seen.brief.version, [then](const Written& off) { then(off.status >= 200 && off.status < 300); });
  });
}

void SubscriptionCalls::statuses(const std::vector<std::string>& ids, std::function<void(std::vector<fhir_read::Notice>)> then) {
  auto found = std::make_shared<std::vector<fhir_read::Notice>>();
  if (no_status_ || ids.empty()) return then({});
  auto left = std::make_shared<std::vector<std::string>>(ids);
  if (no_type_status_) return status_of_next(left, found, std::move(then));
  std::string path = "Subscription/$status?";
  for (const auto& id : ids) path += (path.back() == '?' ? "id=" : "&id=") + id;
  get(path, [this, left, found, then = std::move(then)](const Response* response) {
    if (response && (is_refusal(response->status) || response->status == 404)) {
      no_type_status_ = true;
      return status_of_next(left, found, then);
    }
    fhir::Issues issues;
    if (const auto bundle = resource_in(response, "Bundle")) *found = fhir_read::notices_in(*bundle, issues);
    then(std::move(*found));
  });
}

void SubscriptionCalls::status_of_next(std::shared_ptr<std::vector<std::string>> ids, std::shared_ptr<std::vector<fhir_read::Notice>> found,
                                       std::function<void(std::vector<fhir_read::Notice>)> then) {
  if (ids->empty() || no_status_) return then(std::move(*found));
  const std::string id = ids->back();
  ids->pop_back();
  get("Subscription/" + id + "/$status", [this, ids, found, then = std::move(then)](const Response* response) {
    if (response && (is_refusal(response->status) || response->status == 404)) no_status_ = true;
    fhir::Issues issues;
    const auto body = response && response->status == 200 ? json::parse(response->body) : boost::system::result<json::Value, json::Fault>(json::Value());
    if (body.has_value()) {
      if (auto notice = fhir_read::notice_of(*body, "$status", issues)) found->push_back(std::move(*notice));
      for (auto& notice : fhir_read::notices_in(*body, issues)) found->push_back(std::move(notice));
    }
    status_of_next(ids, found, then);
  });
}

void SubscriptionCalls::events(const std::string& id, std::int64_t first, std::int64_t last, std::function<void(std::optional<json::Value>, bool)> then) {
  if (no_events_) return then(std::nullopt, true);
  get(fmt::format("Subscription/{}/$events?eventsSinceNumber={}&eventsUntilNumber={}&content=id-only", id, first, last), [this, then = std::move(then)](const Response* response) {
    const bool refused = response && (is_refusal(response->status) || response->status == 404);
    no_events_ = no_events_ || refused;
    then(resource_in(response, "Bundle"), refused);
  });
}

}  // namespace app
