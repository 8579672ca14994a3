#include "app/step_writer.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>

#include "app/answer_text.h"
#include "fhir/reference.h"
#include "fhir_write/lookup.h"
#include "fhir_write/steps.h"
#include "json/tree.h"
#include "transport/retry_after.h"

namespace app {

using fhir_write::Placed;
using fhir_write::SingleWrite;
using transport::Outcome;
using transport::Response;

struct StepWriter::Run {
  json::Value bundle;
  std::vector<SingleWrite> writes;
  std::vector<Placed> placed;
  std::map<std::string, json::Value> stands;  // by identity
  std::size_t at = 0;
  bool again = false;                         // tried before: a new item may be there already
  StepsOptions options;
  std::string request_id;
  std::function<void(StepsEnd)> then;

  const SingleWrite& write() const { return writes[at]; }
  /// The resource of this step as it leaves.
  json::Value as_sent() const {
    json::Value whole = fhir_write::resolved(write().resource, placed);
    const bool here = std::ranges::find(options.elsewhere, whole["resourceType"].text()) != options.elsewhere.end();
    return here || options.elsewhere.empty() ? whole : fhir_write::by_identifier(std::move(whole), options.elsewhere);
  }
  const Placed* of(const std::string& identity) const {
    const auto one = std::ranges::find(placed, identity, &Placed::identity);
    return one == placed.end() ? nullptr : &*one;
  }
  void stands_at(Placed one, json::Value resource) {
    std::erase_if(placed, [&](const Placed& other) { return other.identity == one.identity; });
    if (resource.is_object()) stands.insert_or_assign(one.identity, std::move(resource));
    placed.push_back(std::move(one));
  }
  void end(StepsEnd::Kind kind, Response response, std::string why, bool changed, std::chrono::seconds at_least = {}) const {
    then({kind, std::move(response), std::move(why), changed, at_least});
  }
};

namespace {

/// Where the answer to a write says that the resource stands; without an id where it does not say.
Placed placed_by(const SingleWrite& write, const json::Value& body, const Response& response) {
  Placed one;
  one.identity = write.identity;
  one.type = write.resource["resourceType"].text();
  one.status = response.status;
  if (body["resourceType"].text() == one.type) {
    one.id = body["id"].text();
    one.version = body["meta"]["versionId"].text();
  }
  if (const auto location = response.headers.get("Location")) {
    const auto reference = fhir::parse_reference(*location);
    if (reference.type == one.type && one.id.empty()) one.id = reference.id, one.version = reference.version;
    else if (reference.type == one.type && one.id != reference.id) one.id.clear();  // it contradicts itself
  }
  const auto etag = response.headers.get("ETag");
  one.etag = etag ? std::string(*etag) : one.version.empty() ? "" : "W/\"" + one.version + "\"";
  return one;
}

}  // namespace

StepWriter::StepWriter(Executor& executor, transport::Network& network, std::string base_url, std::chrono::milliseconds timeout)
    : executor_(executor), network_(network), base_url_(std::move(base_url)), timeout_(timeout) {}

void StepWriter::write(const store::Write& row, StepsOptions options, std::function<void(StepsEnd)> then) {
  auto run = std::make_shared<Run>();
  auto bundle = json::parse(row.body);
  if (bundle.has_error()) return then({StepsEnd::Kind::refused, {}, "what was queued is no JSON", false, {}});
  run->bundle = std::move(*bundle);
  run->writes = fhir_write::single_writes(run->bundle);
  run->again = row.attempts > 0;
  run->options = options;
  run->request_id = fmt::format("{}-{}-{}", row.id, row.sequence, row.attempts + 1);
  run->then = std::move(then);
  begin(run);
}

/// Whose the new item is that may stand already is asked before anything of it is written: a Binary has no identity and would be left behind.
void StepWriter::begin(const std::shared_ptr<Run>& run) {
  const auto fresh = std::ranges::find_if(run->writes, [](const SingleWrite& one) { return !one.if_none_exist.empty(); });
  if (run->options.writer.empty() || run->options.conditions || fresh == run->writes.end()) return next(run);
  run->at = static_cast<std::size_t>(fresh - run->writes.begin());
  find(run, [this, run](const std::optional<json::Value>& there) {
    if (there && another_writes(run, *there)) return;
    run->at = 0;
    if (!there) return run->end(StepsEnd::Kind::put_off, {}, "the record could not be asked whether a new item stands already", run->again);
    next(run);
  });
}

void StepWriter::ask(transport::OutgoingRequest request, Answer answer) {
  request.headers.add("Accept", "application/fhir+json");
  request.timeout = timeout_;
  network_.send(std::move(request), [this, alive = std::weak_ptr<int>(alive_), answer = std::move(answer)](Outcome outcome) {
    if (!alive.lock()) return;
    executor_.post([alive, answer, outcome = std::move(outcome)] {
      if (alive.lock()) answer(outcome);
    });
  });
}

void StepWriter::next(const std::shared_ptr<Run>& run) {
  if (run->at == run->writes.size())
    return run->end(StepsEnd::Kind::done, Response{200, {}, json::write(fhir_write::rebuilt_response(run->bundle, run->placed, run->stands))}, "", true);
  if ((run->again || !run->options.conditions) && !run->write().if_none_exist.empty()) return look_before(run);
  if (!names_refused_ && !run->write().tagged.empty() && run->write().path == "Binary") return look_for_file(run);
  if (run->again && !run->write().tagged.empty()) return look_for_tag(run);
  if (!run->options.conditions && run->write().method == "PUT") return read_before(run);
  send(run);
}

/// A record that compares no versions: we compare, as short a time before as there is.
void StepWriter::read_before(const std::shared_ptr<Run>& run) {
  transport::OutgoingRequest request;
  request.url = base_url_ + "/" + run->write().path;
  request.headers.add("Cache-Control", "no-cache");
  ask(std::move(request), [this, run](const Outcome& outcome) {
    const auto* response = std::get_if<Response>(&outcome);
    const std::string why = "what is to be changed could not be read: " + (response ? said_by_record(*response) : std::get<transport::Failure>(outcome).text);
    if (response && (response->status == 404 || response->status == 410)) return run->end(StepsEnd::Kind::conflict, *response, why, run->at > 0);
    const auto body = response && response->status == 200 ? json::parse(response->body) : json::parse("null");
    const auto there = body.has_value() ? fhir_write::found(*body, run->write().identity) : std::nullopt;
    if (!there) return run->end(StepsEnd::Kind::put_off, {}, why, run->at > 0);
    const auto etag = response->headers.get("ETag");
    if (run->write().if_match == there->etag || (etag && run->write().if_match == *etag)) return send(run);
    if (run->again) return look_whether_ours(run, *response, "another version stands");
    run->end(StepsEnd::Kind::conflict, *response, "another version stands", run->at > 0);
  });
}

/// The resource of that identity, or null; none where the record could not be asked.
void StepWriter::find(const std::shared_ptr<Run>& run, std::function<void(std::optional<json::Value>)> then) {
  if (run->options.find)
    return run->options.find(run->write(), [alive = std::weak_ptr<int>(alive_), then = std::move(then)](std::optional<json::Value> there) {
      if (alive.lock()) then(std::move(there));
    });
  transport::OutgoingRequest request;
  request.url = base_url_ + "/" + run->write().path + "?" + run->write().if_none_exist;
  request.headers.add("Cache-Control", "no-cache");
  ask(std::move(request), [run, then = std::move(then)](const Outcome& outcome) {
    const auto* response = std::get_if<Response>(&outcome);
    const auto body = response && response->status == 200 ? json::parse(response->body) : json::parse("null");
    if (body.has_error() || (*body)["resourceType"].text() != "Bundle") return then(std::nullopt);
    then(fhir_write::resource_of(*body, run->write().identity));
  });
}

/// Two installations that write for one case write under the same identities: the second one stops, and a person decides which it shall be.
bool StepWriter::another_writes(const std::shared_ptr<Run>& run, const json::Value& stands) {
  const std::string writer = run->options.writer.empty() ? "" : fhir_write::written_by(stands);
  if (writer.empty() || writer == run->options.writer) return false;
  run->end(StepsEnd::Kind::refused, {}, fmt::format("{} carries the tag of installation {}: stop the other one, or start anew with record.takes_over", run->write().path, writer), false);
  return true;
}

/// Not every record honours If-None-Exist: what an earlier attempt made is looked for.
void StepWriter::look_before(const std::shared_ptr<Run>& run) {
  find(run, [this, run](const std::optional<json::Value>& there) {
    if (!there) return run->end(StepsEnd::Kind::put_off, {}, "the record could not be asked whether a new item stands already", run->again || run->at > 0);
    const auto placed = fhir_write::found(*there, run->write().identity);
    if (!placed) return send(run);
    if (another_writes(run, *there)) return;
    // A sheet that was made from another plan does not become this one.
    if (run->write().path == "DocumentReference" && !run->options.conditions && !fhir_write::same_content(run->as_sent(), *there) && !run->again)
      return run->end(StepsEnd::Kind::conflict, {}, "another sheet of that number stands already", true);
    run->stands_at(*placed, *there);
    ++run->at;
    next(run);
  });
}

/// What has no identifier and was sent before is looked for by its tag. Where the record does not search by tags it may stand twice.
void StepWriter::look_for_tag(const std::shared_ptr<Run>& run) {
  transport::OutgoingRequest request;
  request.url = base_url_ + "/" + run->write().path + "?_tag=" + run->write().tagged;
  request.headers.add("Cache-Control", "no-cache");
  request.headers.add("Prefer", "handling=strict");
  ask(std::move(request), [this, run](const Outcome& outcome) {
    const auto* response = std::get_if<Response>(&outcome);
    if (!response || response->status == 429 || response->status >= 500) return run->end(StepsEnd::Kind::put_off, {}, "the record could not be asked whether " + run->write().path + " stands already", true);
    const auto body = response->status == 200 ? json::parse(response->body) : json::parse("null");
    const auto there = body.has_value() ? fhir_write::found_by_tag(*body, run->write().identity) : std::nullopt;
    if (!there) return send(run);
    run->stands_at(*there, json::Value());
    ++run->at;
    next(run);
  });
}

/// A file stands under its identity as id, so that an attempt whose answer was lost, or that a newer plan has overtaken, leaves none that no document names.
/// It is looked for first: the same one need not be written again.
void StepWriter::look_for_file(const std::shared_ptr<Run>& run) {
  transport::OutgoingRequest request;
  request.url = base_url_ + "/" + run->write().path + "/" + run->write().identity;
  request.headers.add("Cache-Control", "no-cache");
  ask(std::move(request), [this, run](const Outcome& outcome) {
    const auto* response = std::get_if<Response>(&outcome);
    const int status = response ? response->status : 0;
    if (status == 0 || status == 429 || status >= 500) return run->end(StepsEnd::Kind::put_off, {}, "the record could not be asked whether the file stands already", run->again || run->at > 0);
    if (status != 200) return put_file(run, {});
    const auto body = json::parse(response->body);
    const std::string version = body.has_value() ? std::string((*body)["meta"]["versionId"].text()) : "", etag = version.empty() ? "" : "W/\"" + version + "\"";
    if (body.has_error() || !fhir_write::same_content(run->as_sent(), *body)) return put_file(run, etag);
    run->stands_at({run->write().identity, run->write().path, run->write().identity, version, etag, 200}, json::Value());
    ++run->at;
    next(run);
  });
}

void StepWriter::put_file(const std::shared_ptr<Run>& run, const std::string& if_match) {
  const SingleWrite& write = run->write();
  transport::OutgoingRequest request;
  request.method = "PUT";
  request.url = base_url_ + "/" + write.path + "/" + write.identity;
  request.headers.add("Content-Type", "application/fhir+json");
  request.headers.add("X-Request-Id", fmt::format("{}-{}", run->request_id, run->at + 1));
  if (!if_match.empty() && run->options.conditions) request.headers.add("If-Match", if_match);
  json::Value resource = run->as_sent();
  resource.set("id", write.identity);
  request.body = json::write(resource);
  ask(std::move(request), [this, run](const Outcome& outcome) {
    const auto* response = std::get_if<Response>(&outcome);
    const int status = response ? response->status : 0;
    if (status >= 200 && status < 300) {
      run->stands_at({run->write().identity, run->write().path, run->write().identity, "1", "W/\"1\"", status}, json::Value());
      ++run->at;
      return next(run);
    }
    // Not every record lets a client name what it makes: then the record does.
    if (status == 400 || status == 403 || status == 404 || status == 405 || status == 422 || status == 501) {
      names_refused_ = true;
      return next(run);
    }
    run->end(StepsEnd::Kind::put_off, response ? *response : Response{}, "the file was not taken: " + (response ? said_by_record(*response) : std::get<transport::Failure>(outcome).text), true,
             response ? transport::retry_after(*response) : std::chrono::seconds{0});
  });
}

void StepWriter::send(const std::shared_ptr<Run>& run) {
  const SingleWrite& write = run->write();
  transport::OutgoingRequest request;
  request.method = write.method;
  request.url = base_url_ + "/" + write.path;
  request.headers.add("Content-Type", "application/fhir+json");
  request.headers.add("Prefer", "return=representation");
  request.headers.add("X-Request-Id", fmt::format("{}-{}", run->request_id, run->at + 1));
  const Placed* before = run->of(write.identity);
  const std::string version = write.if_match.empty() && before ? before->etag : write.if_match;
  if (write.method == "PUT" && run->options.conditions) request.headers.add("If-Match", version);
  if (!write.if_none_exist.empty() && run->options.conditions) request.headers.add("If-None-Exist", write.if_none_exist);
  request.body = json::write(run->as_sent());
  ask(std::move(request), [this, run](const Outcome& outcome) {
    if (const auto* response = std::get_if<Response>(&outcome)) return answered(run, *response);
    const auto& failure = std::get<transport::Failure>(outcome);
    run->end(StepsEnd::Kind::put_off, {}, "no answer: " + failure.text, run->at > 0 || transport::may_have_arrived(failure.kind));
  });
}

void StepWriter::answered(const std::shared_ptr<Run>& run, const Response& response) {
  const SingleWrite& write = run->write();
  const int status = response.status;
  const bool update = write.method == "PUT", changed = run->at > 0;
  const std::string why = fmt::format("{} {}: {}", write.method, write.path, said_by_record(response));
  if (run->again && update && (status == 409 || status == 412)) return look_whether_ours(run, response, why);
  if (status == 409 || status == 412 || (update && (status == 404 || status == 410))) return run->end(StepsEnd::Kind::conflict, response, why, changed);
  if (status == 429 || status == 503) return run->end(StepsEnd::Kind::put_off, response, why, changed, transport::retry_after(response));
  if (status == 401 || status == 403) return run->end(StepsEnd::Kind::put_off, response, why, changed, std::chrono::seconds{60});  // access may come back
  if (status >= 500 || status == 408) return run->end(StepsEnd::Kind::put_off, response, why, true);
  if (status < 200 || status > 299) return run->end(StepsEnd::Kind::refused, response, why, changed);
  const auto body = json::parse(response.body);
  const json::Value nothing;
  Placed one = placed_by(write, body.has_value() ? *body : nothing, response);
  const bool same = !update || write.path == one.type + "/" + one.id;
  if (!update && body.has_value() && another_writes(run, *body)) return;
  const auto shown = body.has_value() ? fhir_write::own_identity(*body) : std::nullopt;
  if (one.id.empty() || one.etag.empty() || !same || (shown && *shown != write.identity)) return look_after(run);
  run->stands_at(std::move(one), body.has_value() && (*body)["resourceType"].text() == write.resource["resourceType"].text() ? *body : nothing);
  ++run->at;
  next(run);
}

/// An earlier attempt may have put just this there, and its answer was lost: then nobody else has written.
void StepWriter::look_whether_ours(const std::shared_ptr<Run>& run, const Response& refusal, const std::string& why) {
  const SingleWrite& write = run->write();
  transport::OutgoingRequest request;
  request.url = base_url_ + "/" + write.path;
  request.headers.add("Cache-Control", "no-cache");
  ask(std::move(request), [run, refusal, why, this](const Outcome& outcome) {
    const auto* response = std::get_if<Response>(&outcome);
    const auto body = response && response->status == 200 ? json::parse(response->body) : json::parse("null");
    const auto there = body.has_value() ? fhir_write::found(*body, run->write().identity) : std::nullopt;
    // A proxy's page is as little an answer as none.
    const bool gone = response && (response->status == 404 || response->status == 410);
    if (!gone && (body.has_error() || (*body)["resourceType"].text() != run->write().resource["resourceType"].text())) return run->end(StepsEnd::Kind::put_off, {}, "the record could not be asked who wrote last", true);
    if (!there || !fhir_write::same_content(run->as_sent(), *body)) return run->end(StepsEnd::Kind::conflict, refusal, why, run->at > 0);
    run->stands_at(*there, *body);
    ++run->at;
    next(run);
  });
}

/// An empty answer, or a proxy's page: what stands is asked for. Still the version from before means that nothing was done.
void StepWriter::look_after(const std::shared_ptr<Run>& run) {
  const SingleWrite& write = run->write();
  const std::string nothing_known = "the record did not say what became of " + write.method + " " + write.path;
  if (write.method == "POST" && (write.if_none_exist.empty() || run->options.find)) return run->end(StepsEnd::Kind::put_off, {}, nothing_known, true);
  transport::OutgoingRequest request;
  request.url = base_url_ + "/" + write.path + (write.if_none_exist.empty() ? "" : "?" + write.if_none_exist);
  request.headers.add("Cache-Control", "no-cache");
  ask(std::move(request), [this, run, nothing_known](const Outcome& outcome) {
    const auto* response = std::get_if<Response>(&outcome);
    const auto body = response && response->status == 200 ? json::parse(response->body) : json::parse("null");
    const auto there = body.has_value() ? fhir_write::found(*body, run->write().identity) : std::nullopt;
    const Placed* before = run->of(run->write().identity);
    const std::string old = before ? before->etag : run->write().if_match;
    if (!there || there->etag == old) return run->end(StepsEnd::Kind::put_off, {}, nothing_known, true);
    // Another version than before need not be this write: an earlier one that was cut off, or somebody, may have made it.
    if (run->write().method == "PUT" && !fhir_write::same_content(run->as_sent(), *body)) return run->end(StepsEnd::Kind::conflict, {}, nothing_known, run->at > 0);
    run->stands_at(*there, fhir_write::resource_of(*body, run->write().identity));
    ++run->at;
    next(run);
  });
}

}  // namespace app
