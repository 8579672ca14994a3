#include "app/record_side.h"

#include <fmt/format.h>

#include "app/compose.h"
#include "app/standing_items.h"
#include "fhir_read/intake.h"
#include "fhir_write/lookup.h"
#include "fhir_write/verify.h"

namespace app {

using store::Result;
using transport::Response;

RecordSide::RecordSide(store::Store& store, Executor& executor, transport::Network& network, const Rules& rules, Log& log)
    : store_(store), executor_(executor), network_(network), rules_(rules), log_(log) {}

void RecordSide::get(const std::string& path, std::function<void(std::optional<Response>)> then) {
  transport::OutgoingRequest request;
  request.url = rules_.configuration.record->base_url + "/" + path;
  request.headers.add("Accept", "application/fhir+json");
  request.headers.add("Cache-Control", "no-cache");
  network_.send(std::move(request), [this, alive = std::weak_ptr<int>(alive_), then = std::move(then)](transport::Outcome outcome) {
    if (!alive.lock()) return;
    executor_.post([alive, then, outcome = std::move(outcome)] {
      if (!alive.lock()) return;
      const auto* response = std::get_if<Response>(&outcome);
      then(response ? std::optional(*response) : std::nullopt);
    });
  });
}

std::string RecordSide::patient_fault(const json::Value& patient, const store::Case& row) const {
  const fhir_read::PatientState state = fhir_read::patient_state(patient);
  const fhir_read::PatientState expected = [&] {
    const auto held = store_.current(row.source, "Patient", row.patient.substr(row.patient.find('/') + 1));
    if (held.has_error() || !*held) return fhir_read::PatientState{};
    auto body = json::parse((*held)->body);
    return body.has_value() ? fhir_read::patient_state(*body) : fhir_read::PatientState{};
  }();
  if (state.identifiers.size() < 2) return "the record's Patient has fewer than two identifiers";
  std::size_t equal = 0;
  for (const auto& identifier : state.identifiers) equal += expected.identifiers.contains(identifier) ? 1u : 0u;
  if (equal < 2) return "fewer than two identifiers of the Patient are the case's";
  if (!state.active) return "the Patient is inactive";
  if (state.replaced) return "the Patient was merged into another";
  if (state.deceased) return "the Patient is recorded as deceased";
  const bool test = rules_.configuration.record->purpose == "test";
  if (test && !state.test_data) return "purpose is test and the Patient is not marked HTEST";
  if (!test && state.test_data) return "purpose is production and the Patient is marked HTEST";
  return {};
}

void RecordSide::check_patient(const store::Write& write, std::function<void(Leave)> then) {
  using enum Leave::Kind;
  const auto row = store_.case_of(write.case_key);
  if (row.has_error() || !*row) return then({hold, "the case is gone"});
  get((*row)->patient, [this, row = **row, then = std::move(then)](const std::optional<Response>& response) {
    if (!response) return then({later, "the record could not be asked who the patient is"});
    const bool gone = response->status == 404 || response->status == 410;
    if (response->status != 200) return then({gone ? hold : later, fmt::format("the record answered {} for {}", response->status, row.patient)});
    const auto body = json::parse(response->body);
    if (body.has_error()) return then({later, "the record's Patient cannot be read"});
    const std::string fault = patient_fault(*body, row);
    then({fault.empty() ? go : hold, fault});
  });
}

Result<void> RecordSide::take_shell(store::Store& store, const store::Write& write, const Response& response) {
  auto row = store.case_of(write.case_key);
  if (row.has_error()) return row.error();
  const auto body = json::parse(response.body);
  if (body.has_error() || !*row) return store::Error{store::ErrorKind::logic, "the answer to a CarePlan is no resource"};
  const auto identity = fhir_write::own_identity(*body);
  const auto placed = fhir_write::found(*body, identity.value_or(""));
  if (!identity || !placed) return store::Error{store::ErrorKind::logic, "the answer to a CarePlan is not our CarePlan"};
  const auto etag = response.headers.get("ETag");
  (*row)->care_plan_id = placed->id;
  (*row)->care_plan_etag = etag ? std::string(*etag) : placed->etag;
  const auto waiting = store.blob(pending_items_name(write.body));
  if (waiting.has_error()) return waiting.error();
  for (store::Item item : items_from(waiting->value_or(""))) {
    item.server_id = placed->id;
    item.etag = (*row)->care_plan_etag;
    if (auto put = store.put_item(item); put.has_error()) return put;
  }
  return store.put_case(**row);
}

/// Somebody may have touched it, and told us so, before the record's answer to us arrived.
Result<void> RecordSide::put_confirmed(store::Store& store, store::Item item, const std::string& version) {
  const auto held = store.current("", item.type, item.server_id);
  if (held.has_error()) return held.error();
  if (item.type == "Task" && *held && !(*held)->deleted && !version.empty() && (*held)->version_id != version)
    if (const auto body = json::parse((*held)->body); body.has_value()) return touched(store, std::move(item), *body);
  return store.put_item(item);
}

Result<void> RecordSide::take_answer(store::Store& store, const store::Write& write, const Response& response) {
  if (write.kind == store::WriteKind::single) return take_shell(store, write, response);
  const auto sent = json::parse(write.body);
  const auto answer = json::parse(response.body);
  if (sent.has_error() || answer.has_error()) return store::Error{store::ErrorKind::logic, "the answer to a transaction is not JSON"};
  const auto placed = fhir_write::placed(*sent, *answer);
  if (placed.has_error()) return store::Error{store::ErrorKind::logic, placed.error()};
  const auto waiting = store.blob(pending_items_name(write.body));
  if (waiting.has_error()) return waiting.error();
  auto row = store.case_of(write.case_key);
  if (row.has_error()) return row.error();
  for (store::Item item : items_from(waiting->value_or("")))
    for (const fhir_write::Placed& one : *placed) {
      if (one.identity != item.identity) continue;
      item.server_id = one.id;
      item.etag = one.etag;
      if (auto body = json::parse(item.body); body.has_value()) item.body = json::write(fhir_write::resolved(std::move(*body), *placed));
      // Late echoes of our own writes come in versions that the record once gave us.
      if (const auto before = store.item(item.identity); before.has_value() && *before) item.window = (*before)->window + " " + (*before)->etag;
      if (auto put = put_confirmed(store, std::move(item), one.version); put.has_error()) return put;
    }
  for (const fhir_write::Placed& one : *placed)
    if (*row && one.type == "CarePlan" && one.id == (*row)->care_plan_id) {
      (*row)->care_plan_etag = one.etag;
      auto care_plan = store.item(one.identity);
      if (care_plan.has_value() && *care_plan) {
        (*care_plan)->etag = one.etag;
        if (auto put = store.put_item(**care_plan); put.has_error()) return put;
      }
    }
  return *row ? store.put_case(**row) : Result<void>{};
}

struct LookUpState {
  json::Value sent;
  std::vector<fhir_write::Lookup> lookups;
  std::vector<fhir_write::Placed> found;
  std::size_t next = 0;
  bool created_missing = false;
  std::function<void(std::optional<bool>, Response)> then;
};

void RecordSide::look_up(const store::Write& write, std::function<void(std::optional<bool>, Response)> then) {
  auto sent = json::parse(write.body);
  if (write.kind == store::WriteKind::single || sent.has_error()) return then(false, {});  // conditional create: sending again is safe
  auto state = std::make_shared<LookUpState>();
  state->lookups = fhir_write::lookups(*sent);
  state->sent = std::move(*sent);
  state->then = std::move(then);
  look_up_next(state);
}

/// New items tell: all of them in the record means that the transaction went in, none of them that it did not.
void RecordSide::look_up_next(std::shared_ptr<LookUpState> state) {
  while (state->next < state->lookups.size() && state->lookups[state->next].query.empty()) ++state->next;
  if (state->next == state->lookups.size()) {
    const bool applied = !state->created_missing;
    return state->then(applied, Response{200, {}, json::write(fhir_write::rebuilt_response(state->sent, state->found))});
  }
  const fhir_write::Lookup lookup = state->lookups[state->next++];
  get(lookup.query, [this, state, lookup](const std::optional<Response>& response) {
    if (!response || response->status >= 500 || response->status == 429) return state->then(std::nullopt, {});
    const auto body = json::parse(response->body);
    const auto placed = response->status == 200 && body.has_value() ? fhir_write::found(*body, lookup.identity) : std::nullopt;
    if (placed && !lookup.if_match.empty() && placed->etag == lookup.if_match) state->created_missing = true;  // unchanged: it did not go in
    else if (placed) state->found.push_back(*placed);
    else if (lookup.created) state->created_missing = true;
    if (state->created_missing) return state->then(false, {});
    look_up_next(state);
  });
}

void RecordSide::read_again(const std::string& case_key, std::function<void(std::vector<store::NewEvent>)> then) {
  const auto items = store_.items_of_case(case_key);
  auto events = std::make_shared<std::vector<store::NewEvent>>();
  auto left = std::make_shared<std::size_t>(1);
  auto finish = [events, left, then = std::move(then)] {
    if (--*left == 0) then(std::move(*events));
  };
  if (items.has_value())
    for (const store::Item& item : *items) {
      if (item.server_id.empty() || (item.type != "Task" && item.type != "CarePlan") || item.status == "withdrawn") continue;
      ++*left;
      get(item.type + "/" + item.server_id, [events, finish, item](const std::optional<Response>& response) {
        if (response && response->status == 200) {
          store::NewEvent event;
          event.method = "PUT";
          event.resource_type = item.type;
          event.resource_id = item.server_id;
          event.body = response->body;
          event.request_id = "read again";
          events->push_back(std::move(event));
        }
        finish();
      });
    }
  finish();
}

Result<void> RecordSide::touched(store::Store& store, store::Item item, const json::Value& resource) {
  const fhir_read::Subject subject = fhir_read::subject_of(resource);
  item.etag = "W/\"" + subject.version + "\"";
  if (item.type == "CarePlan") {
    auto row = store.case_of(item.case_key);
    if (row.has_error()) return row.error();
    if (*row) {
      (*row)->care_plan_etag = item.etag;
      if (auto put = store.put_case(**row); put.has_error()) return put;
    }
  } else if (item.type == "Task") {
    const fhir_read::TaskBrief brief = fhir_read::task_brief(resource);
    mark_touched(item, brief.status, brief.owner, brief.changed ? std::optional(brief.changed->time_since_epoch().count() * 1000) : std::nullopt);
  }
  return store.put_item(item);
}

Result<void> RecordSide::recognise(store::Store& store, const store::Event& event, Taken& taken) {
  if (event.method == "DELETE" || event.body.empty()) return {};
  const auto body = json::parse(event.body);
  if (body.has_error()) return {};
  const auto identity = fhir_write::own_identity(*body);
  if (!identity) return {};
  auto item = store.item(*identity);
  if (item.has_error()) return item.error();
  if (!*item) return {};
  const std::string version = fhir_read::subject_of(*body).version;
  const std::string etag = "W/\"" + version + "\"";
  const bool older = taken.ending.state == store::EventState::irrelevant;
  if (older || (!version.empty() && ((*item)->etag == etag || (*item)->window.find(etag) != std::string::npos))) {
    taken.ending = {event.id, store::EventState::irrelevant, store::Mark::none, "our own write"};
    taken.fact.reset();
    taken.patients.clear();
    return {};
  }
  return touched(store, std::move(**item), *body);
}

}  // namespace app
