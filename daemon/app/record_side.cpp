#include "app/record_side.h"

#include <fmt/format.h>

#include <algorithm>

#include "app/answer_text.h"
#include "app/case_notes.h"
#include "app/compose.h"
#include "app/lanes.h"
#include "app/standing_items.h"
#include "app/served.h"
#include "fhir/codes.h"
#include "fhir/digest.h"
#include "fhir_read/intake.h"
#include "fhir_read/search_query.h"
#include "fhir_write/lookup.h"
#include "fhir_write/verify.h"

namespace app {

using store::Result;
using transport::Response;

RecordSide::RecordSide(store::Store& store, Executor& executor, transport::Network& network, const Rules& rules, Ours& ours)
    : store_(store), executor_(executor), network_(network), rules_(rules), ours_(ours),
      steps_(executor, network, rules.configuration.record->base_url, deliver_options(rules).timeout) {}

void RecordSide::get(const std::string& path, std::function<void(const Response*)> then) {
  transport::OutgoingRequest request;
  request.url = rules_.configuration.record->base_url + (path.starts_with("/?") ? path.substr(1) : "/" + path);
  request.timeout = deliver_options(rules_).timeout;
  request.headers.add("Cache-Control", "no-cache");
  // A search parameter that the record does not know shall be an error, not be overlooked: then another way is taken.
  if (path.find('?') != std::string::npos) request.headers.add("Prefer", "handling=strict");
  send(std::move(request), std::move(then));
}

void RecordSide::send(transport::OutgoingRequest request, std::function<void(const Response*)> then) {
  request.headers.add("Accept", "application/fhir+json");
  const bool reads = request.method == "GET";
  network_.send(std::move(request), [this, reads, alive = std::weak_ptr<int>(alive_), then = std::move(then)](transport::Outcome outcome) {
    if (!alive.lock()) return;
    executor_.post([this, reads, alive, then, outcome = std::move(outcome)] {
      if (!alive.lock()) return;
      const auto* failure = std::get_if<transport::Failure>(&outcome);
      if (failure) why_no_answer_ = failure->text;
      if (failure && reads && failure->kind == transport::FailureKind::too_large) {
        const Response too_large{kTooLarge, {}, {}};
        return then(&too_large);
      }
      then(std::get_if<Response>(&outcome));
    });
  });
}

namespace {

/// What the patient of a case is known by: as kept with the case once its CarePlan stands, until then as recorded.
std::set<clinical::Identifier> expected_identifiers(store::Store& store, const store::Case& row) {
  if (auto kept = notes_of(row).identifiers; !kept.empty()) return kept;
  const auto held = store.current(row.source, "Patient", row.patient.substr(row.patient.find('/') + 1));
  if (held.has_error() || !*held) return {};
  const auto body = json::parse((*held)->body);
  return body.has_value() ? fhir_read::patient_state(*body).identifiers : std::set<clinical::Identifier>{};
}

store::NewEvent patient_event(const store::Case& row, const json::Value& patient, const Response& response) {
  store::NewEvent event;
  event.source = row.source;
  event.method = "PUT";
  event.resource_type = "Patient";
  event.resource_id = row.patient.substr(row.patient.find('/') + 1);
  event.version_id = std::string(patient["meta"]["versionId"].text());
  event.content_hash = fhir::sha256_hex(response.body);
  event.body = response.body;
  event.request_id = "read before a write";
  return event;
}

}  // namespace

Leave RecordSide::judge(const json::Value& patient, const Response& response, const store::Case& row) const {
  using enum Leave::Kind;
  const fhir_read::PatientState state = fhir_read::patient_state(patient);
  const bool test = rules_.configuration.record->purpose == "test", closing = row.state == "withdrawn";
  if (test && !state.test_data) return {hold, "purpose is test and the Patient is not marked HTEST"};
  if (!test && state.test_data) return {hold, "purpose is production and the Patient is marked HTEST"};
  if (closing) return {go, ""};
  const auto with_facts = [&](const char* why) { return Leave{hold, why, "", patient_event(row, patient, response)}; };
  if (state.replaced) return with_facts("the Patient was merged into another");
  if (state.deceased) return with_facts("the Patient is recorded as deceased");
  if (!state.active) return with_facts("the Patient is inactive");
  if (state.identifiers.size() < 2) return {hold, "the record's Patient has fewer than two identifiers"};
  const auto expected = expected_identifiers(store_, row);
  const auto equal = std::ranges::count_if(state.identifiers, [&](const auto& identifier) { return expected.contains(identifier); });
  if (equal >= 2) return {go, ""};
  if (expected.empty()) return with_facts("the Patient was never sent here; the record's is taken");
  const bool written = !notes_of(row).identifiers.empty();  // before that there is nothing to take back
  return {hold, "fewer than two identifiers of the Patient are the case's", written ? "case.stopped.identity" : ""};
}

void RecordSide::check_patient(const store::Write& write, std::function<void(Leave)> then) {
  using enum Leave::Kind;
  const auto row = store_.case_of(case_in(write.case_key));
  if (row.has_error() || !*row) return then({hold, "the case is gone"});
  get((*row)->patient, [this, write, row = **row, then = std::move(then)](const Response* response) {
    if (!response) return then({later, "the record could not be asked who the patient is: " + why_no_answer_});
    const bool gone = response->status == 404 || response->status == 410;
    if (response->status != 200) return then({gone ? hold : later, fmt::format("the record answered {} for {}", response->status, row.patient)});
    const auto body = json::parse(response->body);
    if (body.has_error() || (*body)["resourceType"].text() != "Patient") return then({later, "the record's Patient cannot be read"});
    Leave leave = judge(*body, *response, row);
    if (leave.kind != go || write.kind != store::WriteKind::transaction || is_side_lane(write.case_key) || rung_ == Rung::transactions || rung_ == Rung::single_writes) return then(std::move(leave));
    try_transaction(row, std::move(then));
  });
}

bool RecordSide::in_steps(const store::Write& write) const { return is_side_lane(write.case_key) || rung_ == Rung::single_writes || serves_a_part(rules_); }

void RecordSide::write_in_steps(const store::Write& write, std::function<void(StepsEnd)> then) {
  StepsOptions options;
  const auto& documents = rules_.configuration.documents;
  if (is_side_lane(write.case_key)) {
    options.conditions = documents.conditions == "yes";
    options.writer = rules_.installation;
  }
  if (is_side_lane(write.case_key) && documents.found_by == "patient")
    if (const auto row = store_.case_of(case_in(write.case_key)); row.has_value() && *row)
      options.find = [this, patient = (*row)->patient](const fhir_write::SingleWrite& one, auto then_found) { find_of_patient(one.path, one.identity, patient, std::move(then_found)); };
  options.elsewhere = types_served(rules_);
  steps_.write(write, std::move(options), std::move(then));
}

/// What it costs that only a part of a plan is in the record; empty where all of it is.
std::string RecordSide::part_text() const {
  if (!serves_a_part(rules_)) return {};
  if (is_served(rules_, "Task"))
    return "Tasks are served here on /fhir, the CarePlan is in the record and names them by identifier. What that costs: the record's own lists of work show nothing of ours. The rest: ";
  return "CarePlans, answers and provenance are served here on /fhir, Tasks are in the record and name their plan by identifier. What that costs: readers of the record see the Tasks and the sheet without the "
         "plan's timetable, and nothing there fences a change. The rest: ";
}

/// Not every record takes a DetectedIssue, and a plan does not wait for one. What stands in the record already it has taken.
bool RecordSide::sets_clashes_aside(const store::Write& write, const std::string& why) {
  const auto body = json::parse(write.body);
  if (!why_clashes_here_.empty() || write.kind != store::WriteKind::transaction || body.has_error()) return false;
  const bool any = std::ranges::any_of((*body)["entry"].items(), [](const json::Value& one) { return one["resource"]["resourceType"].text() == "DetectedIssue" && one["request"]["method"].text() == "POST"; });
  if (any) why_clashes_here_ = why.empty() ? "it refused one" : why;
  return any;
}

std::string RecordSide::rung_text() const {
  return rung_alone() + (why_clashes_here_.empty() ? "" : "; clashes of orders (DetectedIssue) are served here on /fhir, for the record took none: " + for_log(why_clashes_here_));
}

std::string RecordSide::rung_alone() const {
  if (serves(rules_)) {
    const auto& documents = rules_.configuration.documents;
    std::string text = "documents only: the record takes the sheet";
    if (documents.communication == "yes") text += " and a Communication";
    text += "; Tasks and CarePlans are served here on /fhir. What that costs: the record's own lists of work show nothing of ours, its readers see the plan as a document alone, and a sheet and the Tasks do not change at one instant";
    if (documents.conditions == "no") text += "; the record compares no versions, so somebody who changes a document in the same moment may be written over";
    if (documents.updates == "no") text += "; a sheet that was replaced or is void stays current there";
    return text;
  }
  const std::string part = part_text();
  switch (rung_) {
    case Rung::untried: return part + "not tried yet: found out before the first change";
    case Rung::transactions: return part + "fenced transactions: a change is there as a whole or not at all";
    case Rung::single_writes: return part + "single writes, for " + why_no_transactions_ + ": a reader may see a plan as a draft for moments, and a change that is cut off is finished or taken up again after a look at what stands";
    case Rung::none: return "none: it overlooks ifMatch";
  }
  return "";
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
  ours_.note_writer(**row, *body);
  CaseNotes notes = notes_of(**row);
  notes.identifiers = expected_identifiers(store, **row);
  notes.search = response.status != 201;  // it stood there already, and so may others of ours
  (*row)->extra = text_of(notes);
  (*row)->care_plan_id = placed->id;
  (*row)->care_plan_etag = etag ? std::string(*etag) : placed->etag;
  const auto waiting = store.blob(pending_items_name(write.body));
  if (waiting.has_error()) return waiting.error();
  for (store::Item item : items_from(waiting->value_or(""))) {
    item.server_id = placed->id;
    item.etag = (*row)->care_plan_etag;
    if (item.type == (*body)["resourceType"].text()) item.body = json::write(*body);  // it may have stood there, and somebody have added to it
    if (auto put = store.put_item(item); put.has_error()) return put;
  }
  return store.put_case(**row);
}

/// Somebody may have touched it before the record's answer to us arrived, or before we looked what became of it: told us so, or seen in what stands. A
/// version that was ours before is no touch.
Result<void> RecordSide::put_confirmed(store::Store& store, store::Item item, const std::string& version, const json::Value& sent, const json::Value& stands) {
  if (stands.is_object() && !fhir_write::as_we_sent(sent, stands)) return ours_.touched(store, std::move(item), stands);
  // Where the answer was lost somebody may have added to it before we looked: what stands is what the next change starts from.
  if (stands.is_object() && stands["resourceType"].text() == item.type) item.body = json::write(stands);
  const auto held = store.current("", item.type, item.server_id);
  if (held.has_error()) return held.error();
  const bool other = *held && !(*held)->deleted && !version.empty() && (*held)->version_id != version;
  if (item.type == "Task" && other && item.window.find("W/\"" + (*held)->version_id + "\"") == std::string::npos)
    if (const auto body = json::parse((*held)->body); body.has_value()) return ours_.touched(store, std::move(item), *body);
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
  auto row = store.case_of(case_in(write.case_key));
  if (row.has_error()) return row.error();
  for (store::Item item : items_from(waiting->value_or("")))
    for (std::size_t at = 0; at < placed->size(); ++at) {
      const fhir_write::Placed& one = (*placed)[at];
      if (one.identity != item.identity) continue;
      item.server_id = one.id;
      item.etag = one.etag;
      if (auto body = json::parse(item.body); body.has_value()) item.body = json::write(fhir_write::resolved(std::move(*body), *placed));
      // Late echoes of our own writes come in versions that the record once gave us. What was heard of after this write was made and before its answer is another
      // version than the one it was made for: somebody else's, perhaps, and then no echo.
      if (const auto before = store.item(item.identity); before.has_value() && *before) {
        const bool ours = (*before)->etag == (*sent)["entry"].at(at)["request"]["ifMatch"].text();
        item.window = (*before)->window + (ours ? " " + (*before)->etag : "");
      }
      if (auto put = put_confirmed(store, std::move(item), one.version, (*sent)["entry"].at(at)["resource"], (*answer)["entry"].at(at)["resource"]); put.has_error()) return put;
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

namespace {

/// "DocumentReference?patient=a&category=system%7Ccode&_count=100".
std::string search_of_patient(const profile::Configuration::Documents& documents, const std::string& type, const std::string& patient) {
  std::string path = type + "?patient=" + patient.substr(patient.find('/') + 1);
  if (type == "DocumentReference") {
    std::string category = documents.category;
    if (const auto system_end = category.find('|'); system_end != std::string::npos) category.resize(std::min(category.find('|', system_end + 1), category.size()));
    path += "&category=" + (category.empty() ? "clinical-note" : fhir_read::percent_encoded(category));
  }
  return path + "&_count=100";
}

}  // namespace

/// What is served here is asked for by our identifiers, so that it is asked here; documents as the record lets them be asked for.
std::string RecordSide::asked_in_place_of(const std::string& path) const {
  const auto question = path.find("?patient=");
  if (question == std::string::npos) return path;
  const std::string type = path.substr(0, question);
  if (is_served(rules_, type)) return path + "&identifier=" + std::string(fhir::item_identifier_system) + "%7C";
  const std::string patient = path.substr(question + 9, path.find('&') - question - 9);
  return rules_.configuration.documents.found_by == "patient" ? search_of_patient(rules_.configuration.documents, type, patient) : path;
}

struct LookUpState {
  json::Value sent;
  std::vector<fhir_write::Lookup> lookups;
  std::vector<fhir_write::Placed> found;
  std::map<std::string, json::Value> stands;  // by identity
  std::size_t next = 0;
  bool created_missing = false;
  std::function<void(std::optional<bool>, Response)> then;
  std::string patient;  // whose new items are looked for among his; empty: by identifier
};

void RecordSide::look_up(const store::Write& write, std::function<void(std::optional<bool>, Response)> then) {
  auto sent = json::parse(write.body);
  if (write.kind == store::WriteKind::single || sent.has_error()) return then(false, {});  // conditional create: sending again is safe
  auto state = std::make_shared<LookUpState>();
  state->lookups = fhir_write::lookups(*sent);
  if (is_side_lane(write.case_key) && rules_.configuration.documents.found_by == "patient")
    if (const auto row = store_.case_of(case_in(write.case_key)); row.has_value() && *row) state->patient = (*row)->patient;
  state->sent = std::move(*sent);
  state->then = std::move(then);
  look_up_next(state);
}

/// New items tell: all of them in the record means that the transaction went in, none of them that it did not.
void RecordSide::look_up_next(std::shared_ptr<LookUpState> state) {
  while (state->next < state->lookups.size() && state->lookups[state->next].query.empty()) ++state->next;
  if (state->next == state->lookups.size()) {
    const bool applied = !state->created_missing;
    return state->then(applied, Response{200, {}, json::write(fhir_write::rebuilt_response(state->sent, state->found, state->stands))});
  }
  const fhir_write::Lookup lookup = state->lookups[state->next++];
  if (lookup.created && !state->patient.empty()) return find_new(lookup, state);
  get(lookup.query, [this, state, lookup](const Response* response) {
    // Only a record that speaks FHIR can say that something is not there: a proxy's page is no answer.
    const bool gone = response && (response->status == 404 || response->status == 410);
    if (!response || (response->status != 200 && !gone)) return state->then(std::nullopt, {});
    const auto body = json::parse(response->body);
    if (!gone && (body.has_error() || (*body)["resourceType"].text().empty() || (*body)["resourceType"].text() == "OperationOutcome")) return state->then(std::nullopt, {});
    const auto placed = response->status == 200 && body.has_value() ? fhir_write::found(*body, lookup.identity) : std::nullopt;
    if (placed && !lookup.if_match.empty() && placed->etag == lookup.if_match) state->created_missing = true;  // unchanged: it did not go in
    else if (placed && placed->type == "CarePlan" && fhir_write::resource_of(*body, lookup.identity)["status"].text() != lookup.status) state->created_missing = true;  // a draft: not to the end
    else if (placed) {
      fhir_write::add_found(state->found, *placed, state->sent, *body);
      state->stands.emplace(lookup.identity, fhir_write::resource_of(*body, lookup.identity));
    }
    else if (lookup.created) state->created_missing = true;
    if (state->created_missing) return state->then(false, {});
    look_up_next(state);
  });
}

/// Where identifiers cannot be searched: everything of that type that the patient has, page after page. Null: not there; none: it could not be asked.
void RecordSide::find_of_patient(const std::string& type, const std::string& identity, const std::string& patient, std::function<void(std::optional<json::Value>)> then) {
  RecordSearch what;
  what.base_url = rules_.configuration.record->base_url;
  what.rebase = rules_.configuration.record->next_page == "rebase";
  what.ours_only = true;
  what.paths.push_back(search_of_patient(rules_.configuration.documents, type, patient));
  search(getter(), std::move(what), [identity, then = std::move(then)](const SearchResult& result) {
    if (!result.whole || !result.refused.empty() || !result.withheld.empty()) return then(std::nullopt);
    for (const Found& one : result.found) {
      if (one.identity != identity || one.event.method != "PUT") continue;
      auto body = json::parse(one.event.body);
      return body.has_value() ? then(std::move(*body)) : then(std::nullopt);
    }
    then(json::Value());
  });
}

void RecordSide::find_new(const fhir_write::Lookup& lookup, const std::shared_ptr<LookUpState>& state) {
  find_of_patient(lookup.type, lookup.identity, state->patient, [this, lookup, state](const std::optional<json::Value>& there) {
    if (!there) return state->then(std::nullopt, {});
    const auto placed = fhir_write::found(*there, lookup.identity);
    if (!placed) return state->then(false, {});
    fhir_write::add_found(state->found, *placed, state->sent, *there);
    state->stands.emplace(lookup.identity, *there);
    look_up_next(state);
  });
}

void RecordSide::read_again(const std::string& case_key, bool forgotten, SearchDone then) {
  const auto row = store_.case_of(case_key);
  const auto items = store_.items_of_case(case_key);
  if (row.has_error() || !*row || items.has_error()) {
    SearchResult nothing;
    nothing.whole = false;
    return then(std::move(nothing));
  }
  RecordSearch what = search_for(**row, *items, rules_.configuration.record->base_url, forgotten);
  what.rebase = rules_.configuration.record->next_page == "rebase";
  if (!types_served(rules_).empty())
    for (std::string& path : what.paths) path = asked_in_place_of(path);
  search(getter(), std::move(what), [then = std::move(then)](SearchResult result) {
    for (const auto& [path, status] : result.refused)  // without these two it is not known what stands
      if (path.starts_with("CarePlan") || path.starts_with("Task")) result.whole = false;
    if (!result.withheld.empty()) result.whole = false;
    then(std::move(result));
  });
}

RecordGet RecordSide::getter() {
  return [this](const std::string& path, std::function<void(const Response*)> answer) { get(path, std::move(answer)); };
}

}  // namespace app
